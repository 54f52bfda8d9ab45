#include "journeys/mend_look.h"

#include "glassine/bagit/layout.h"
#include "glassine/bagit/manifest.h"
#include "glassine/base/text.h"
#include "glassine/io/files.h"
#include "glassine/recovery/locator.h"
#include "journeys/bag_reading.h"
#include "journeys/seen_files.h"

#include <algorithm>
#include <array>
#include <utility>

namespace glassine::journeys {
namespace {

using recovery::FileDamage;

class Looking {
  public:
    Looking(const Context& context, const MendPlace& place, bool suspicion)
        : context_(context), files_(context.files), place_(place), suspicion_(suspicion) {}

    MendLook run(const std::string& words) {
        const auto phase = context_.monitor.phase(
            words + " in " + text::for_terminal(place_.bag.filename().string()));
        out_.set = std::make_unique<recovery::RecoverySet>(files_, place_.bag, place_.others);
        recovery::Locator locator(*out_.set);
        SeenFiles seen(locator);
        bagit::CheckOptions options;
        options.flow.resources = context_.resources;
        options.flow.stop = context_.stop;
        options.flow.observer = phase.get();
        options.further = {&seen};
        out_.report = bagit::check_folder(files_, place_.bag, options);
        if (out_.report.stopped) return std::move(out_);
        out_.proofs = proofs_of(place_.bag, &tag_names_);
        for (const Finding& f : out_.report.findings)
            if (calls_for_mending(f)) out_.wrong.insert(f.path);
        add_lost(locator, seen);
        locate(locator, seen);
        for (const std::string& name : out_.lost_groups())
            out_.wrong.insert(name);
        judge_tag_manifest();
        forget_false_accusations();
        borrow_proofs();
        return std::move(out_);
    }

  private:
    /// `tag_names`: gets what the tag manifests list. A damaged payload manifest may name anything.
    Proofs proofs_of(const io::Path& bag, std::set<std::string>* tag_names = nullptr) const {
        flow::Options flow;
        flow.resources = context_.resources;
        bagit::LoadOptions load;
        load.digests = false;
        Proofs proofs;
        const bagit::Bag loaded = bagit::load_folder(files_, bag, load, flow);
        proofs.add(loaded);
        if (tag_names == nullptr) return proofs;
        for (const auto& matched : loaded.manifests())
            if (matched.manifest.name().kind == bagit::ManifestKind::tag)
                for (std::uint32_t i = 0; i < matched.manifest.size(); ++i)
                    tag_names->emplace(matched.manifest[i].path);
        return proofs;
    }

    /// In the bag itself: what a link inside it leads to is not the bag's.
    bool stands(const std::string& name) const {
        for (std::size_t at = name.find('/'); at != std::string::npos;
             at = name.find('/', at + 1)) {
            const auto folder = files_.find(place_.bag / name.substr(0, at));
            if (!folder || folder->type != io::FileType::directory) return false;
        }
        return files_.find(place_.bag / name).has_value();
    }

    /// Files that the recovery data knows and the bag has lost, manifests that would name them
    /// included.
    void add_lost(recovery::Locator& locator, const SeenFiles& seen) {
        for (const auto& [name, file] : out_.set->covered())
            if (!seen.contains(std::string(name)) && !stands(std::string(name))) {
                locator.lost(name);
                out_.wrong.insert(std::string(name));
            }
    }

    void locate(const recovery::Locator& locator, const SeenFiles& seen) {
        const auto proven = [&](std::string_view name) {
            const std::string text(name);
            return seen.contains(text) && out_.proofs.find(text) != nullptr &&
                   !out_.wrong.contains(text);
        };
        out_.damages = locator.damages(proven);
        std::vector<std::string> unseen;
        for (const auto& [name, file] : out_.set->covered())
            if (!seen.contains(std::string(name)) && stands(std::string(name)))
                unseen.emplace_back(name);
        if (!unseen.empty())
            std::ranges::move(recovery::locate(files_, place_.bag, *out_.set, unseen, proven),
                              std::back_inserter(out_.damages));
        std::ranges::sort(out_.damages, {}, &FileDamage::name);
        for (const FileDamage& damage : out_.damages)
            out_.wrong.insert(damage.name);
        out_.set->inspect_all();
        for (const Finding& f : out_.set->findings())
            out_.wrong.insert(f.path);
        for (const recovery::CoveredWindow& covered : out_.set->windows())
            if (!has_right_size(covered.window))
                out_.wrong.insert(recovery::file_name(covered.window.group, covered.window.number));
    }

    /// All packets may be whole, and yet something stand between or behind them.
    bool has_right_size(const recovery::Window& window) const {
        const auto info =
            files_.find(place_.bag / recovery::file_name(window.group, window.number));
        return info && info->size == recovery::file_size(window);
    }

    std::uint64_t number_of_windows(recovery::Group group) const {
        return static_cast<std::uint64_t>(std::ranges::count_if(
            out_.set->windows(),
            [&](const recovery::CoveredWindow& w) { return w.window.group == group; }));
    }

    bool located(const std::string& name) const {
        return std::ranges::find(out_.damages, name, &FileDamage::name) != out_.damages.end();
    }

    /// A file that stands there with every check value right, although a digest says otherwise.
    bool contradicts(const std::string& name) const {
        if (!stands(name)) return false;
        if (out_.set->find(name) != nullptr) return !located(name);
        const auto& windows = out_.set->windows();
        const auto at = std::ranges::find_if(windows, [&](const recovery::CoveredWindow& w) {
            return recovery::file_name(w.window.group, w.window.number) == name;
        });
        const auto found = out_.set->findings();
        return at != windows.end() &&
               std::ranges::find(found, name, &Finding::path) == found.end() &&
               has_right_size(at->window);
    }

    /// Nothing covers the tag manifest. It is wrong when it is lost, when it is not the text that
    /// `closeout` writes for its files, or when it accuses a file that is whole.
    void judge_tag_manifest() {
        const std::string& own = tag_manifest_name();
        if (out_.set->empty()) {
            const bool elsewhere = std::ranges::any_of(place_.others, [&](const io::Path& other) {
                return files_.find(other / own).has_value();
            });
            if (!stands(own) && elsewhere) out_.wrong.insert(own);
            return;
        }
        bool wrong = suspicion_ || !stands(own) || !is_as_written();
        for (const Finding& f : out_.report.findings)
            if (f.kind == FindingKind::tag_altered && f.path != own && contradicts(f.path)) {
                out_.wrong.erase(f.path);
                wrong = true;
            }
        if (wrong) out_.wrong.insert(own);
    }

    /// A damaged manifest accuses files that are whole, and names files that never were.
    void forget_false_accusations() {
        const bool manifest_wrong = out_.wrong.contains(tag_manifest_name()) ||
                                    out_.wrong.contains(payload_manifest_name());
        if (manifest_wrong && covers(recovery::Group::tags)) {
            const std::set<std::string> sealed = out_.sealed_tag_files();
            std::erase_if(out_.wrong, [&](const std::string& name) {
                return !is_payload(name) && name != tag_manifest_name() && !stands(name) &&
                       !sealed.contains(name);
            });
        }
        if (out_.wrong.contains(payload_manifest_name()) && covers(recovery::Group::payload))
            std::erase_if(out_.wrong, [&](const std::string& name) {
                return is_payload(name) && !located(name) &&
                       (!stands(name) || out_.set->find(name) != nullptr);
            });
    }

    /// Every file of the group is known.
    bool covers(recovery::Group group) const {
        const auto& windows = out_.set->windows();
        const auto first = std::ranges::find_if(
            windows, [&](const recovery::CoveredWindow& w) { return w.window.group == group; });
        return first != windows.end() && number_of_windows(group) == first->window.windows;
    }

    bool is_as_written() const {
        std::vector<bagit::ManifestLine> lines;
        for (const std::string& name : tag_names_)
            if (const Proof* proof = out_.proofs.find(name)) lines.push_back({name, proof->digest});
        if (!std::ranges::includes(tag_names_, out_.sealed_tag_files())) return false;
        try {
            return io::read_small_file(files_, place_.bag / tag_manifest_name()) ==
                   bagit::manifest_text(std::move(lines));
        } catch (const Error&) {
            return false;
        }
    }

    /// What the bag's own manifests do not tell, those of the other copies do, if they are copies
    /// of this bag.
    void borrow_proofs() {
        const bool tags = out_.wrong.contains(tag_manifest_name());
        const bool payload = !stands(payload_manifest_name());
        if (!tags && !payload) return;
        for (const io::Path& other : place_.others) {
            const Proofs theirs = proofs_of(other);
            if (!is_same_bag(theirs)) continue;
            for (const auto& [name, proof] : theirs.all())
                if (is_payload(name) ? payload : tags) out_.proofs.prefer(name, proof);
            return;
        }
    }

    /// Most of the first payload files are what the other copy's manifests say.
    bool is_same_bag(const Proofs& theirs) const {
        constexpr int enough = 16;
        int looked_at = 0;
        int same = 0;
        for (const auto& [name, proof] : theirs.all()) {
            if (!is_payload(name) || !stands(name)) continue;
            if (digest_of_file(files_, place_.bag / name, proof.algorithm) == proof.digest) ++same;
            if (++looked_at == enough) break;
        }
        return same > 0 && 2 * same >= looked_at;
    }

    const Context& context_;
    io::FileSystem& files_;
    const MendPlace& place_;
    bool suspicion_;
    std::set<std::string> tag_names_;  ///< that the bag's tag manifests list
    MendLook out_;
};

}  // namespace

const std::string& tag_manifest_name() {
    static const std::string name =
        bagit::manifest_file(bagit::ManifestKind::tag, digest::Algorithm::sha512);
    return name;
}

const std::string& payload_manifest_name() {
    static const std::string name =
        bagit::manifest_file(bagit::ManifestKind::payload, digest::Algorithm::sha512);
    return name;
}

recovery::RebuildOptions MendPlace::rebuild_options(const Context& context) const {
    recovery::RebuildOptions options;
    options.others = others;
    options.stop = context.stop;
    return options;
}

std::vector<std::string> MendLook::lost_groups() const {
    std::vector<std::string> names;
    if (set->empty() || report.files == 0) return names;
    for (const auto group : {recovery::Group::payload, recovery::Group::tags})
        if (std::ranges::none_of(set->windows(), [&](const recovery::CoveredWindow& w) {
                return w.window.group == group;
            }))
            names.push_back(recovery::file_name(group, 0));
    return names;
}

std::set<std::string> MendLook::sealed_tag_files() const {
    std::set<std::string> names;
    for (const auto& [name, file] : set->covered())
        if (!is_payload(std::string(name))) names.emplace(name);
    for (const recovery::CoveredWindow& covered : set->windows())
        names.insert(recovery::file_name(covered.window.group, covered.window.number));
    for (const Finding& lost : set->findings())
        names.insert(lost.path);
    for (const std::string& name : lost_groups())
        names.insert(name);
    return names;
}

bool MendLook::other_tags_wrong() const {
    return std::ranges::any_of(wrong, [](const std::string& name) {
        return !is_payload(name) && name != tag_manifest_name();
    });
}

MendLook look_for_damage(const Context& context, const MendPlace& place, const std::string& words,
                         bool suspicion) {
    return Looking(context, place, suspicion).run(words);
}

}  // namespace glassine::journeys
