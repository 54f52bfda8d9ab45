#pragma once

#include "glassine/bagit/bag.h"
#include "glassine/bagit/check.h"
#include "glassine/journeys/context.h"
#include "glassine/shelf/register.h"

#include <optional>
#include <string>
#include <string_view>

namespace glassine::journeys {

class BagSource;

/// What the tag files of a bag, a folder or an archive, say of it, as the register keeps it: whose
/// job, the payload with its digests, the rejected raws that something sealed stands for. Reads tag
/// files only. `volume` and `path` are left empty.
///
/// A manifest or frames.csv that is not what the tag manifest says is left out: the register lists
/// only contents that the seal vouches for. In a bag without a SHA-512 tag manifest the SHA-512 of
/// its strongest tag manifest, or else payload manifest, stands in for the seal; the seal is empty
/// when there is no manifest at all. A compressed archive is read from end to end. Throws Error
/// when the folder cannot be listed, or the archive not be read.
shelf::BagRecord bag_record(const Context& context, const io::Path& bag);
shelf::BagRecord bag_record(BagSource& bag);

/// The same from a loaded bag alone, for one in a compressed archive that is being read anyhow:
/// without its name, and without rejected raws, since frames.csv would have to be read once more.
/// Nothing when the bag has no SHA-512 tag manifest.
std::optional<shelf::BagRecord> bag_record(const bagit::Bag& bag, std::string_view media_type);

/// What the shelf calls the bag that was checked: its folder's name, also of one in an archive.
std::string shelved_name(const Context& context, const bagit::BagReport& report);

}  // namespace glassine::journeys
