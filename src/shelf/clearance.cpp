#include "glassine/shelf/clearance.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <set>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::shelf {

namespace {

/// The best that is known of a content on one volume.
struct OnVolume {
    const HeldCopy* copy = nullptr;
    bool fresh = false;
    bool by_proxy = false;
};

/// Where a file's content is held, by volume.
using Places = std::map<std::string_view, OnVolume>;

bool is_fresh(const HeldCopy& copy, const ClearanceQuestion& question) {
    if (!copy.proven) return false;
    if (question.fresh.is_never()) return true;
    return question.today <= later(utc_date(*copy.proven), question.fresh);
}

bool better(const OnVolume& a, const OnVolume& b) {
    if (!b.copy || a.fresh != b.fresh) return !b.copy || a.fresh;
    return a.copy->proven > b.copy->proven;
}

/// `weak` becomes whether nothing better than MD5 or SHA-1 vouches for the content.
void look_up(const MediumFile& file, const ClearanceQuestion& question,
             std::span<Holdings* const> holdings, std::vector<std::vector<Held>>& keep,
             Places& places, bool& weak) {
    weak = true;
    for (const digest::Value& digest : file.digests) {
        for (Holdings* const holder : holdings) {
            keep.push_back(holder->find(digest));
            if (!keep.back().empty() && digest.bytes().size() > 20) weak = false;
            for (const Held& held : keep.back()) {
                for (const HeldCopy& copy : held.copies) {
                    if (!copy.whole || copy.volume == question.own_volume) continue;
                    const OnVolume found{&copy, is_fresh(copy, question), held.by_proxy};
                    OnVolume& place = places[copy.volume];
                    if (better(found, place)) place = found;
                }
            }
        }
    }
}

unsigned fresh_ones(const Places& places) {
    return static_cast<unsigned>(std::count_if(
        places.begin(), places.end(), [](const auto& entry) { return entry.second.fresh; }));
}

std::string labels(const Places& places, bool fresh) {
    std::vector<std::string> names;
    for (const auto& [volume, place] : places) {
        if (place.fresh == fresh) names.push_back(place.copy->label);
    }
    return fmt::format("{}", fmt::join(names, ", "));
}

std::string stale_ones(const Places& places) {
    std::vector<std::string> names;
    for (const auto& [volume, place] : places) {
        if (place.fresh) continue;
        const auto& proven = place.copy->proven;
        names.push_back(proven ? fmt::format("{} (last proven {})", place.copy->label,
                                             iso_date(utc_date(*proven)))
                               : place.copy->label + " (never proven)");
    }
    return fmt::format("{}", fmt::join(names, ", "));
}

Finding refuse(const MediumFile& file, const Places& places, const ClearanceQuestion& question) {
    const unsigned fresh = fresh_ones(places);
    if (places.empty()) {
        return found(FindingKind::not_held, file.path, "no verified copy of it is known");
    }
    if (places.size() >= question.copies) {
        return found(FindingKind::copy_stale, file.path,
                     fmt::format("{} of {} copies were proven recently enough; audit {}", fresh,
                                 question.copies, stale_ones(places)));
    }
    const std::string old = fresh < places.size() ? "; too old: " + stale_ones(places) : "";
    return found(FindingKind::held_too_seldom, file.path,
                 fmt::format("held in {} of {} copies{}{}", fresh, question.copies,
                             fresh ? ": " + labels(places, true) : "", old));
}

/// The bags that a content lies in, each once, where at least one copy counts.
std::set<std::string_view> bags_of(const std::vector<std::vector<Held>>& answers,
                                   const ClearanceQuestion& question) {
    std::set<std::string_view> bags;
    for (const std::vector<Held>& answer : answers)
        for (const Held& held : answer) {
            const bool counts = std::ranges::any_of(held.copies, [&](const HeldCopy& copy) {
                return copy.whole && copy.volume != question.own_volume && is_fresh(copy, question);
            });
            if (counts && !held.bag.empty()) bags.insert(held.bag);
        }
    return bags;
}

/// Counts what makes the copies weaker than their number says.
class Weaknesses {
  public:
    void look(const Places& places, bool weak_digest) {
        std::set<std::string_view> where;
        std::set<std::string_view> bought;
        bool proxy = false;
        for (const auto& [volume, place] : places) {
            if (!place.fresh) continue;
            where.insert(place.copy->place);
            bought.insert(place.copy->purchase);
            proxy = proxy || place.by_proxy;
        }
        if (where.size() == 1 && !where.begin()->empty()) ++places_[std::string(*where.begin())];
        if (bought.size() == 1 && !bought.begin()->empty()) {
            ++purchases_[std::string(*bought.begin())];
        }
        if (proxy) ++proxies_;
        if (weak_digest) ++weak_;
    }

    std::vector<std::string> sentences() const {
        std::vector<std::string> sentences;
        for (const auto& [place, files] : places_) {
            sentences.push_back(fmt::format("all copies of {} stand in one place: {}",
                                            text::counted(files, "file"), place));
        }
        for (const auto& [purchase, files] : purchases_) {
            sentences.push_back(fmt::format("all copies of {} are on drives of one purchase: {}",
                                            text::counted(files, "file"), purchase));
        }
        if (proxies_) {
            sentences.push_back(fmt::format("{} rejected: a proxy is held, not the raw itself",
                                            text::counted(proxies_, "file was", "files were")));
        }
        if (weak_) {
            sentences.push_back(fmt::format("{} compared by MD5 or SHA-1 only",
                                            text::counted(weak_, "file was", "files were")));
        }
        return sentences;
    }

  private:
    std::map<std::string, std::uint64_t> places_;
    std::map<std::string, std::uint64_t> purchases_;
    std::uint64_t proxies_ = 0;
    std::uint64_t weak_ = 0;
};

digest::Value list_digest(std::span<const MediumFile> files) {
    std::vector<const MediumFile*> sorted;
    for (const MediumFile& file : files)
        sorted.push_back(&file);
    std::sort(sorted.begin(), sorted.end(),
              [](const MediumFile* a, const MediumFile* b) { return a->path < b->path; });
    digest::Hasher hasher(digest::Algorithm::sha512);
    for (const MediumFile* file : sorted) {
        const std::string hex = file->digests.empty() ? "" : file->digests.front().hex();
        const std::string line = fmt::format("{}  {}\n", hex, file->path);
        hasher.update(std::as_bytes(std::span(line)));
    }
    return hasher.finish();
}

}  // namespace

std::size_t FolderHoldings::add_folder(HeldCopy medium, std::string folder) {
    folders_.push_back({std::move(medium), std::move(folder)});
    return folders_.size() - 1;
}

void FolderHoldings::add_file(std::size_t folder, const digest::Value& content) {
    const auto bytes = content.bytes();
    by_content_[std::string(reinterpret_cast<const char*>(bytes.data()), bytes.size())].push_back(
        folder);
}

std::vector<Held> FolderHoldings::find(const digest::Value& content) {
    const auto bytes = content.bytes();
    const auto known =
        by_content_.find(std::string(reinterpret_cast<const char*>(bytes.data()), bytes.size()));
    std::vector<Held> held;
    if (known == by_content_.end()) return held;
    for (const std::size_t folder : known->second) {
        held.push_back({folders_[folder].path, "", false, {folders_[folder].medium}});
    }
    return held;
}

Clearance judge_clearance(const ClearanceQuestion& question, std::span<Holdings* const> holdings) {
    Clearance result;
    Weaknesses weaknesses;
    std::vector<std::vector<Held>> keep;
    for (const MediumFile& file : question.files) {
        ++result.files;
        keep.clear();
        Places places;
        bool weak = false;
        look_up(file, question, holdings, keep, places, weak);
        if (fresh_ones(places) >= std::max(1u, question.copies)) {
            ++result.held;
            weaknesses.look(places, weak);
            for (const std::string_view bag : bags_of(keep, question))
                ++result.bags[std::string(bag)];
        } else {
            result.findings.push_back(refuse(file, places, question));
        }
    }
    if (question.files.empty()) {
        result.findings.push_back(found(FindingKind::not_held, "",
                                        "there is no file here at all; is the medium mounted?"));
    }
    bool all_looked_at = true;
    for (const Finding& finding : question.not_looked_at) {
        if (finding.severity != Severity::note) all_looked_at = false;
        result.findings.push_back(finding);
    }
    result.clear = all_looked_at && result.held == result.files && result.files > 0;
    result.weaknesses = weaknesses.sentences();
    result.list = list_digest(question.files);
    return result;
}

std::optional<Event> written_clearance(const Clearance& clearance, const Policy& policy,
                                       const std::string& person, const std::string& medium,
                                       Timestamp now) {
    const auto& named = policy.clears_media;
    if (!clearance.clear || std::find(named.begin(), named.end(), person) == named.end()) {
        return std::nullopt;
    }
    // The wiping itself is the person's deed; what happened here is the check (PREMIS fixity
    // check).
    Event event =
        new_event(event_type::fixity_check, now, Outcome::success,
                  fmt::format("cleared for wiping, signed by {} on {}: {}, list sha512 {}", person,
                              iso_date(utc_date(now)), text::counted(clearance.files, "file"),
                              clearance.list.hex()));
    event.outcome_detail = clearance.weaknesses;
    event.with_agent("person", person, "authorizer");
    event.with_object(object_type::path, medium, "source");
    event.with_figure(figure::list_digest, clearance.list.hex());
    return event;
}

}  // namespace glassine::shelf
