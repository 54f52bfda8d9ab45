#pragma once

#include "glassine/flow/destination.h"

#include <memory>
#include <string>
#include <string_view>

namespace glassine::bagit {

/// The kinds of archive that are written. Both hold every file as it is, uncompressed: pictures do
/// not get smaller, and damage stays where it happened.
enum class ArchiveForm {
    tar,  ///< POSIX pax (IEEE 1003.1): names in UTF-8, times to the nanosecond, any size
    zip   ///< APPNOTE 6.3: stored, ZIP64 where it is needed, names in UTF-8, times to the second
};
std::string_view word(ArchiveForm form);            ///< "tar", "zip"
std::string_view archive_ending(ArchiveForm form);  ///< ".tar", ".zip"

/// One archive file `folder/BAG_NAME.ENDING` that holds the bag in a top-level folder of its name
/// (0.97 §4). Staged in `folder/.BAG_NAME.ENDING.glassine-staging`, read back through the archive's
/// own headers, renamed into place.
///
/// Its sink takes one file at a time; what comes beside it (recovery data, proxies) waits in
/// memory, or when it is large in the staging folder, and is added between two files. Names that
/// are no UTF-8 cannot stand in a ZIP: Error `not_supported`.
std::unique_ptr<flow::Destination> archive_destination(io::FileSystem& files, io::Path folder,
                                                       std::string bag_name, ArchiveForm form);

}  // namespace glassine::bagit
