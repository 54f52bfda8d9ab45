#pragma once

#include "glassine/bagit/bag.h"

#include <string_view>
#include <vector>

/// The steps by which a loaded bag's structure is judged. Each takes what the ones before it found
/// out.
namespace glassine::bagit {

/// Matches a manifest's entries with the listing.
void match(Bag::Matched& matched, const Listing& listing, const Rules& rules,
           const Encoding& encoding, FindingsLog& log);

/// Which manifests there are, in which algorithms, and how they are named.
void check_manifests(const Bag& bag, FindingsLog& log);
/// What a payload manifest must not list.
void check_payload_entries(const Bag::Matched& manifest, const Rules& rules, FindingsLog& log);
/// What a tag manifest must and must not list.
void check_tag_manifests(const Bag& bag, FindingsLog& log);
/// Paths that nothing answers to, each once.
std::vector<Bag::Missing> find_missing(const Bag& bag, FindingsLog& log);
/// Payload files that no manifest lists, and those that not all list that must.
std::vector<Bag::Index> find_unlisted(const Bag& bag, FindingsLog& log);
void check_fetch(const Bag& bag, FindingsLog& log);
void check_oxum(const Bag& bag, FindingsLog& log);
/// Folders and files that must or must not be there.
void check_layout(const Bag& bag, FindingsLog& log);
/// Names across systems, links and special files.
void check_names(const Listing& listing, FindingsLog& log);

/// The place of `path` among the unanswered entries of a manifest; nothing when it is not among
/// them.
std::optional<std::uint32_t> find_unanswered(const Bag::Matched& manifest, std::string_view path);

}  // namespace glassine::bagit
