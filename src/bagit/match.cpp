#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "structure.h"
#include "words.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

using enum FindingKind;

/// Matches the entries of one manifest; a pass by bytes first, so that an entry that is exactly
/// right is never robbed of its file by one that is nearly right.
class Matcher {
  public:
    Matcher(Bag::Matched& matched, const Listing& listing, const Rules& rules,
            const Encoding& encoding, FindingsLog& log)
        : matched_(matched),
          manifest_(matched.manifest),
          listing_(listing),
          rules_(rules),
          encoding_(encoding),
          log_(log) {}

    void run() {
        matched_.entry_of.assign(listing_.size(), 0);
        by_bytes();
        std::erase_if(matched_.unanswered, [this](std::uint32_t e) { return by_meaning(e); });
        std::ranges::sort(matched_.unanswered, [this](std::uint32_t a, std::uint32_t b) {
            return std::pair(manifest_[a].path, a) < std::pair(manifest_[b].path, b);
        });
        tell_habits();
        tell_duplicates();
        std::ranges::sort(matched_.again);
    }

  private:
    void by_bytes() {
        Listing::Index hint = 0;
        for (std::uint32_t e = 0; e < manifest_.size(); ++e) {
            const Listing::Index file = listing_.find(manifest_[e].path, hint);
            if (file == Listing::none) {
                matched_.unanswered.push_back(e);
                continue;
            }
            claim(file, e);
            hint = file + 1;
        }
    }

    void claim(Listing::Index file, std::uint32_t entry) {
        if (listing_[file].type == io::FileType::directory) {
            log_.add(found(manifest_malformed, Severity::damage, manifest_.file(),
                           fmt::format("line {} lists a folder: “{}”", manifest_[entry].line,
                                       excerpt(manifest_[entry].path))));
            return;
        }
        if (matched_.entry_of[file] == 0)
            matched_.entry_of[file] = entry + 1;
        else
            matched_.again.emplace_back(file, entry);
    }

    /// Tries what else the path may mean. True when a file answers to it.
    bool by_meaning(std::uint32_t entry) {
        if (by_text(entry)) return true;
        const std::string path(manifest_[entry].path);
        const bool star = path.starts_with('*');
        std::string meant = star ? canonical_path(path.substr(1)) : path;
        const bool slashes = meant.find('\\') != std::string::npos && slashes_help(meant);
        if (slashes) meant = with_slashes(meant);
        if (meant == path || !(is_there(meant) || is_payload_path(meant))) return false;
        if (star) stars_.push_back(manifest_[entry].line);
        if (slashes) backslashes_.push_back(manifest_[entry].line);
        manifest_.rename(entry, meant);
        const Listing::Index file = listing_.find(meant);
        if (file == Listing::none) return by_text(entry);
        claim(file, entry);
        return true;
    }

    bool is_there(std::string_view path) const { return listing_.find(path) != Listing::none; }

    bool is_payload_path(std::string_view path) const {
        return manifest_.name().kind == ManifestKind::payload && in_payload(path);
    }

    static std::string with_slashes(std::string path) {
        std::ranges::replace(path, '\\', '/');
        return canonical_path(path);
    }

    /// A backslash may be part of a name; it stands for `/` when only so the path makes sense.
    bool slashes_help(const std::string& path) const {
        const std::string other = with_slashes(path);
        return !is_there(path) &&
               (is_there(other) || (!is_payload_path(path) && is_payload_path(other)));
    }

    bool by_text(std::uint32_t entry) {
        const std::string_view path = manifest_[entry].path;
        for (const Listing::Index file : listing_.find_same_text(path, encoding_.name)) {
            if (matched_.entry_of[file] != 0 || !listing_.is_file(file)) continue;
            log_.add(found(name_normalised, std::string(listing_[file].name),
                           fmt::format("{} lists it with the same letters in other bytes (Unicode "
                                       "normalisation): “{}”",
                                       manifest_.file(), excerpt(path))));
            claim(file, entry);
            return true;
        }
        return false;
    }

    void tell_habit(Weight weight, std::vector<std::uint32_t>& lines, std::string_view what) {
        if (!weight || lines.empty()) return;
        log_.add(found(path_form, *weight, manifest_.file(),
                       fmt::format("{} {}, first in line {}", text::counted(lines.size(), "path"),
                                   what, std::ranges::min(lines))));
    }

    void tell_habits() {
        tell_habit(rules_.star_marker, stars_, "with the “*” that checksum tools put first");
        tell_habit(rules_.backslash_separator, backslashes_, "with “\\” in the place of “/”");
    }

    void tell_duplicates() {
        for (const auto& [file, again] : matched_.again)
            tell_duplicate(matched_.entry_of[file] - 1, again);
        for (std::size_t i = 1; i < matched_.unanswered.size(); ++i) {
            const std::uint32_t before = matched_.unanswered[i - 1];
            const std::uint32_t entry = matched_.unanswered[i];
            if (manifest_[before].path == manifest_[entry].path) tell_duplicate(before, entry);
        }
    }

    void tell_duplicate(std::uint32_t first, std::uint32_t again) {
        const Manifest::Entry a = manifest_[first];
        const Manifest::Entry b = manifest_[again];
        const bool same = std::ranges::equal(a.digest, b.digest);
        const Weight weight = same ? rules_.listed_twice : Severity::damage;
        if (!weight) return;
        log_.add(
            found(manifest_duplicate, *weight, shown_path(a.path),
                  fmt::format("{} lists it twice, in lines {} and {}, with {}", manifest_.file(),
                              a.line, b.line, same ? "the same checksum" : "different checksums")));
    }

    Bag::Matched& matched_;
    Manifest& manifest_;
    const Listing& listing_;
    const Rules& rules_;
    const Encoding& encoding_;
    FindingsLog& log_;
    std::vector<std::uint32_t> stars_;
    std::vector<std::uint32_t> backslashes_;
};

}  // namespace

void match(Bag::Matched& matched, const Listing& listing, const Rules& rules,
           const Encoding& encoding, FindingsLog& log) {
    Matcher(matched, listing, rules, encoding, log).run();
}

std::optional<std::uint32_t> find_unanswered(const Bag::Matched& manifest, std::string_view path) {
    const auto path_of = [&](std::uint32_t e) { return manifest.manifest[e].path; };
    const auto at = std::ranges::lower_bound(manifest.unanswered, path, {}, path_of);
    if (at == manifest.unanswered.end() || path_of(*at) != path) return std::nullopt;
    return *at;
}

}  // namespace glassine::bagit
