#include "glassine/journeys/mend.h"

#include "glassine/bagit/check.h"
#include "glassine/bagit/layout.h"
#include "glassine/recovery/locator.h"
#include "glassine/recovery/rebuilder.h"
#include "journeys/bag_source.h"
#include "journeys/mend_foretelling.h"
#include "journeys/mend_look.h"
#include "journeys/mend_recovery_files.h"
#include "journeys/mend_shelf.h"
#include "journeys/mend_workshop.h"

#include <algorithm>
#include <set>
#include <utility>

namespace glassine::journeys {
namespace {

using recovery::FileDamage;
using report::Ending;

bool is_tag(const std::string& name) {
    return !is_payload(name);
}

class Mending {
  public:
    /// `context`: in it all of `place.others` are folders.
    Mending(const Context& context, const MendRequest& request, MendShelf& shelf, MendPlace place)
        : context_(context),
          files_(context.files),
          request_(request),
          shelf_(shelf),
          place_(std::move(place)) {}

    report::MendResult run() {
        result_.command = "mend";
        result_.bag = request_.bag.string();
        result_.dry_run = request_.dry_run;
        result_.started = files_.now();
        look("Looking for damage");
        result_.findings = look_.report.findings;
        const bool wrong = !look_.report.stopped && !look_.wrong.empty();
        if (wrong && request_.dry_run)
            foretell(context_, place_, look_, result_);
        else if (wrong)
            heal_until_stopped();
        else if (!request_.dry_run && MendWorkshop::has_leftovers(files_, place_.bag))
            MendWorkshop(files_, place_.bag);  // clears what an interrupted run left
        conclude();
        return std::move(result_);
    }

  private:
    bool stopped() const { return context_.stop.stop_requested(); }

    void look(const std::string& words) {
        look_ = look_for_damage(context_, place_, words, suspicion_);
    }

    /// True once: when it comes to light that the tag manifest cannot be trusted.
    bool suspects_now(const MendWorkshop& workshop) {
        if (suspicion_ || !workshop.contradicted()) return false;
        suspicion_ = true;
        look("Looking again");
        return true;
    }

    void heal_until_stopped() try { heal(); } catch (const Error& error) {
        // What was healed until then is in its place, and told.
        if (error.cause() != Cause::interrupted) throw;
    }

    void heal() {
        MendWorkshop workshop(files_, place_.bag);
        // Tag files first: the manifests are what payload is proven by.
        if (std::ranges::any_of(look_.wrong, is_tag)) {
            heal_files(workshop, is_tag);
            if (suspects_now(workshop)) heal_files(workshop, is_tag);
            look("Looking again");
        }
        heal_files(workshop, is_payload);
        heal_recovery_files(workshop);
        if (suspects_now(workshop)) heal_recovery_files(workshop);
        heal_tag_manifest(workshop);
        look("Proving the result");
        result_.beyond_repair.assign(look_.wrong.begin(), look_.wrong.end());
    }

    template <typename Choice>
    void heal_files(MendWorkshop& workshop, Choice chosen) {
        std::set<std::string> open;
        for (const std::string& name : look_.wrong)
            if (chosen(name) && name != tag_manifest_name() && !recovery::is_file_name(name))
                open.insert(name);
        std::erase_if(open, [&](const std::string& name) { return adopt(workshop, name); });
        put_in_place(workshop);
        std::vector<FileDamage> damages;
        std::ranges::copy_if(look_.damages, std::back_inserter(damages),
                             [&](const FileDamage& d) { return open.contains(d.name); });
        if (!damages.empty() && !stopped()) {
            const auto receiver = workshop.receiver(look_.proofs);
            recovery::Rebuilder(files_, place_.bag, *look_.set, std::move(damages),
                                place_.rebuild_options(context_))
                .run(*receiver);
        }
        for (const std::string& name : open)
            if (!workshop.made(name) && !stopped()) take_from_copies(workshop, name);
        put_in_place(workshop);
    }

    bool adopt(MendWorkshop& workshop, const std::string& name) {
        const Proof* proof = look_.proofs.find(name);
        return proof != nullptr && workshop.adopt(name, *proof);
    }

    /// The whole file, from the first copy that has it right.
    bool take_from_copies(MendWorkshop& workshop, const std::string& name) {
        const Proof* proof = look_.proofs.find(name);
        if (proof == nullptr) return false;
        return std::ranges::any_of(place_.others, [&](const io::Path& other) {
            return files_.find(other / name) &&
                   workshop.take_copy(name, *proof, other / name, other.string());
        });
    }

    void put_in_place(MendWorkshop& workshop) {
        for (report::HealedFile& file : workshop.put_in_place())
            result_.healed.push_back(std::move(file));
        result_.quarantine = workshop.quarantine();
    }

    bool still_wrong(const std::string& name) const {
        return look_.wrong.contains(name) &&
               std::ranges::find(result_.healed, name, &report::HealedFile::path) ==
                   result_.healed.end();
    }

    /// Recovery files are made again from the files that they cover; the tag manifest proves them.
    void heal_recovery_files(MendWorkshop& workshop) {
        for (const std::string& name : look_.wrong)
            if (recovery::is_file_name(name) && still_wrong(name) && !stopped() &&
                !adopt(workshop, name))
                take_from_copies(workshop, name);
        for (const recovery::Window& window : known_windows(files_, place_.bag, look_))
            make_recovery_file(workshop, window);
        put_in_place(workshop);
    }

    void make_recovery_file(MendWorkshop& workshop, const recovery::Window& window) {
        const std::string name = recovery::file_name(window.group, window.number);
        const Proof* proof = look_.proofs.find(name);
        if (!still_wrong(name) || proof == nullptr || stopped() || workshop.made(name)) return;
        if (std::ranges::any_of(window.extents, [&](const recovery::Extent& extent) {
                return still_wrong(extent.name);
            }))
            return;
        try {
            workshop.make_from(name, *proof, "the files that it covers", [&](flow::Sink& sink) {
                flow::Sink* sinks[] = {&sink};
                recovery::regenerate(files_, place_.bag, window, sinks, context_.stop);
            });
        } catch (const Error& error) {
            // A covered file cannot be read: then this one stays as it is, and the end tells.
            if (!error.path().starts_with((place_.bag / "").string())) throw;
        }
    }

    /// Written again from the files that it lists, once all of them are whole.
    void heal_tag_manifest(MendWorkshop& workshop) {
        if (!look_.wrong.contains(tag_manifest_name()) || stopped()) return;
        look("Looking at the tag files");
        if (look_.report.stopped || !look_.wrong.contains(tag_manifest_name())) return;
        if (const auto made = whole_tag_manifest(files_, place_, look_)) {
            workshop.make(tag_manifest_name(), made->text, made->from);
            suspicion_ = false;
        }
        put_in_place(workshop);
    }

    void conclude() {
        // A manifest that was healed twice over, or a file made and made again, is told once.
        std::ranges::stable_sort(result_.healed, {}, &report::HealedFile::path);
        const auto again =
            std::unique(result_.healed.begin(), result_.healed.end(),
                        [](const report::HealedFile& a, const report::HealedFile& b) {
                            return a.path == b.path;
                        });
        result_.healed.erase(again, result_.healed.end());
        if (!result_.beyond_repair.empty() || !look_.report.complete ||
            (request_.dry_run && !result_.healed.empty()))
            result_.ending = Ending::attention;
        if (!request_.dry_run && look_.report.valid && !*look_.report.valid)
            result_.ending = Ending::attention;
        if (stopped()) result_.ending = Ending::interrupted;
        shelf_.conclude(place_.bag, look_.report, result_);
        sort_findings(result_.findings);
        result_.finished = files_.now();
    }

    const Context& context_;
    io::FileSystem& files_;
    const MendRequest& request_;
    MendShelf& shelf_;
    MendPlace place_;
    report::MendResult result_;
    MendLook look_;           ///< the last one
    bool suspicion_ = false;  ///< the tag manifest is known not to be what it was
};

Error not_mended(const Context& context, const io::Path& path) {
    const auto info = context.files.find(path);
    if (info && info->type == io::FileType::regular &&
        bagit::is_archive_name(path.filename().string()))
        return {
            Cause::not_supported, "mend", path.string(), "an archive is not healed in place",
            "`glassine migrate` makes a whole folder of it elsewhere; or unpack it and mend the "
            "folder"};
    return {Cause::not_found, "mend", path.string(), "it is not a bag",
            "name the folder of one bag"};
}

/// Copies that the user named: each of them must be one.
std::vector<io::Path> named_copies(const Context& context, const MendRequest& request,
                                   const io::Path& bag, CopiesAsFolders& copies) {
    std::vector<io::Path> others;
    for (const io::Path& given : request.from) {
        const io::Path other = context.files.resolve(given);
        if (!may_hold_bag(context.files, other))
            throw Error(Cause::not_found, "mend from", given.string(), "it is not a bag",
                        "name the folder or archive of another copy of the same bag");
        if (other != bag) others.push_back(copies.add(other));
    }
    return others;
}

}  // namespace

report::MendResult mend(const Context& context, const MendRequest& request) {
    if (!bagit::is_bag_folder(context.files, request.bag) &&
        !context.files.find(request.bag / bagit::payload_directory))
        throw not_mended(context, request.bag);
    MendShelf shelf(context);
    CopiesAsFolders copies(context);
    MendPlace place;
    place.bag = context.files.resolve(request.bag);
    place.others = request.from.empty() ? copies.add_usable(shelf.other_copies(place.bag))
                                        : named_copies(context, request, place.bag, copies);
    return Mending(copies.context(), request, shelf, std::move(place)).run();
}

}  // namespace glassine::journeys
