#pragma once

#include "photo/raw_decoder.h"
#include "photo/tiff_structure.h"

#include <optional>
#include <string>

namespace glassine::photo {

/// The image digest that stands inside a DNG.
struct StoredDigest {
    std::string hex;          ///< 32 digits; empty when the file holds none (or all zeros)
    bool new_method = false;  ///< NewRawImageDigest (DNG 1.4), which has the word where both stand
};
StoredDigest stored_digest(const TiffStructure& tiff);

/// The digest by the same rule, over the unpacked values.
///
/// RawImageDigest (DNG 1.2): MD5 over all values in row order, each 16 bits little endian, smaller
/// ones padded with zeros. NewRawImageDigest: MD5 of the MD5s of tiles of 256 x 256 in row order,
/// values of at most 8 bits as single bytes. The rules stand in the DNG specification and in the
/// DNG software development kit (both from memory, the latter compared with the published source).
///
/// Empty where the rule leaves a doubt: linearisation tables, several planes, transparency masks,
/// interleaving, floating point or lossy packing.
std::string computed_digest(const TiffStructure& tiff, const StoredDigest& stored,
                            const std::optional<RawDecoder::Plane>& plane);

/// Programs of 2008 wrote the first bytes of RawImageDigest wrong: such a digest proves nothing.
bool known_defect(const StoredDigest& stored, const std::string& computed);

}  // namespace glassine::photo
