#include "journeys/mend_foretelling.h"

#include "glassine/digest/digest.h"
#include "journeys/mend_recovery_files.h"

#include <algorithm>
#include <map>
#include <optional>
#include <set>
#include <span>
#include <utility>

namespace glassine::journeys {
namespace {

/// Puts files together only to see whether they are what the proofs say.
class Trial : public recovery::HealedFiles {
  public:
    explicit Trial(const Proofs& proofs) : proofs_(proofs) {}

    void begin(const std::string& name, std::uint64_t) override {
        proof_ = proofs_.find(name);
        hasher_.emplace(proof_ == nullptr ? digest::Algorithm::sha512 : proof_->algorithm);
    }
    void bytes(std::span<const std::byte> bytes) override { hasher_->update(bytes); }
    void end(const recovery::Healed& healed) override {
        if (proof_ != nullptr && hasher_->finish() != proof_->digest) refuted_.insert(healed.name);
    }
    void failed(const std::string& name, const std::string&) override { refuted_.insert(name); }

    const std::set<std::string>& refuted() const { return refuted_; }

  private:
    const Proofs& proofs_;
    const Proof* proof_ = nullptr;
    std::optional<digest::Hasher> hasher_;
    std::set<std::string> refuted_;
};

/// Files that can be put together and yet are not what the manifests say.
std::set<std::string> refuted_files(const Context& context, const MendPlace& place,
                                    MendLook& look) {
    Trial trial(look.proofs);
    recovery::Rebuilder(context.files, place.bag, *look.set, look.damages,
                        place.rebuild_options(context))
        .run(trial);
    return trial.refuted();
}

class Foretelling {
  public:
    Foretelling(const Context& context, const MendPlace& place, MendLook& look,
                report::MendResult& result)
        : files_(context.files), place_(place), look_(look), result_(result), left_(look.wrong) {
        const auto outlook = recovery::Rebuilder(files_, place.bag, *look.set, look.damages,
                                                 place.rebuild_options(context))
                                 .outlook();
        for (const std::string& name : outlook.from_recovery)
            ways_[name] = "recovery data";
        for (const std::string& name : outlook.from_copies)
            ways_[name] = "recovery data and other copies";
        refuted_ = refuted_files(context, place, look);
    }

    /// In the order in which `mend` heals.
    void run() {
        give_up_refuted([](const std::string& name) { return !is_payload(name); });
        take_files([](const std::string& name) { return !is_payload(name); });
        // What a damaged manifest refutes, the healed one may prove.
        if (!manifest_comes_back()) give_up_refuted(is_payload);
        take_files(is_payload);
        take_recovery_files();
        take_tag_manifest();
        result_.beyond_repair.assign(left_.begin(), left_.end());
    }

  private:
    void take(const std::string& name, std::string from) {
        left_.erase(name);
        result_.healed.push_back({name, std::move(from), {}});
    }

    template <typename Choice>
    void give_up_refuted(Choice chosen) {
        for (const std::string& name : refuted_)
            if (chosen(name)) ways_.erase(name);
    }

    template <typename Choice>
    void take_files(Choice chosen) {
        const std::set<std::string> open = left_;
        for (const std::string& name : open) {
            if (!chosen(name) || name == tag_manifest_name() || recovery::is_file_name(name) ||
                !is_provable(name))
                continue;
            const auto way = ways_.find(name);
            if (way != ways_.end())
                take(name, way->second);
            else if (const auto copy = whole_elsewhere(name))
                take(name, *copy);
        }
    }

    /// A manifest that will have been healed tells of every file that it covers.
    bool is_provable(const std::string& name) const {
        return look_.proofs.find(name) != nullptr ||
               (is_payload(name) && manifest_comes_back() && look_.set->find(name) != nullptr);
    }

    bool manifest_comes_back() const {
        return look_.wrong.contains(payload_manifest_name()) &&
               !left_.contains(payload_manifest_name());
    }

    std::optional<std::string> whole_elsewhere(const std::string& name) const {
        const Proof* proof = look_.proofs.find(name);
        if (proof == nullptr) return std::nullopt;
        for (const io::Path& other : place_.others)
            if (digest_of_file(files_, other / name, proof->algorithm) == proof->digest)
                return other.string();
        return std::nullopt;
    }

    void take_recovery_files() {
        std::map<std::string, recovery::Window> windows;
        for (recovery::Window& window : known_windows(files_, place_.bag, look_)) {
            std::string name = recovery::file_name(window.group, window.number);
            windows.emplace(std::move(name), std::move(window));
        }
        const std::set<std::string> open = left_;
        for (const std::string& name : open) {
            if (!recovery::is_file_name(name) || look_.proofs.find(name) == nullptr) continue;
            const auto window = windows.find(name);
            if (const auto copy = whole_elsewhere(name))
                take(name, *copy);
            else if (window != windows.end() && will_be_whole(window->second))
                take(name, "the files that it covers");
        }
    }

    bool will_be_whole(const recovery::Window& window) const {
        return std::ranges::none_of(window.extents, [&](const recovery::Extent& extent) {
            return left_.contains(extent.name);
        });
    }

    void take_tag_manifest() {
        if (!left_.contains(tag_manifest_name())) return;
        const bool others_left = std::ranges::any_of(left_, [](const std::string& name) {
            return !is_payload(name) && name != tag_manifest_name();
        });
        if (others_left) return;
        if (tag_manifest_can_be_made(files_, place_, look_))
            take(tag_manifest_name(), "the files that it lists");
    }

    io::FileSystem& files_;
    const MendPlace& place_;
    MendLook& look_;
    report::MendResult& result_;
    std::set<std::string> left_;
    std::set<std::string> refuted_;  ///< put together, they are not what the manifests say
    std::map<std::string, std::string> ways_;  ///< by which files can be put together again
};

}  // namespace

void foretell(const Context& context, const MendPlace& place, MendLook& look,
              report::MendResult& result) {
    const auto refuted = refuted_files(context, place, look);
    if (!std::ranges::all_of(refuted, is_payload))
        look = look_for_damage(context, place, "Looking again", true);
    Foretelling(context, place, look, result).run();
}

}  // namespace glassine::journeys
