#pragma once

#include "journeys/mend_look.h"

#include <optional>
#include <string>
#include <vector>

/// How the files that nothing covers are made again: recovery files and the tag manifest.
namespace glassine::journeys {

/// The windows of all recovery files, also of those that are lost altogether: what they covered
/// follows from what the others cover. Where nothing is left of the recovery data, none.
std::vector<recovery::Window> known_windows(io::FileSystem& files, const io::Path& bag,
                                            const MendLook& look);

struct WholeTagManifest {
    std::string text;
    std::string from;
};
/// The tag manifest as it was sealed, from the tag files as they stand now; nothing while one of
/// them is wrong, or not all of their names are known. Without recovery data: that of another copy,
/// if the bag's tag files are what it says.
std::optional<WholeTagManifest> whole_tag_manifest(io::FileSystem& files, const MendPlace& place,
                                                   const MendLook& look);

/// Whether `whole_tag_manifest` will give one once every wrong tag file is healed.
bool tag_manifest_can_be_made(io::FileSystem& files, const MendPlace& place, const MendLook& look);

}  // namespace glassine::journeys
