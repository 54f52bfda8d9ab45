#include "photo/raw_check.h"

#include "photo/boxes.h"
#include "photo/dng_digest.h"
#include "photo/jpeg_decoder.h"
#include "photo/jpeg_head.h"
#include "photo/plain_raw.h"
#include "photo/previews.h"
#include "photo/raw_decoder.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace glassine::photo {

namespace {

/// The header of a "FUJIFILMCCD-RAW" file lists three parts at 84, 92 and 100: offset and length of
/// JPEG, metadata and sensor data, big endian (from memory).
void check_blocks(Bytes file, Decoded& out) {
    const ByteReader reader(file, true);
    for (const std::uint64_t at : {84, 92, 100}) {
        const auto offset = reader.number(at, 4);
        const auto length = reader.number(at + 4, 4);
        if (!offset || !length)
            return out.breaks(fmt::format("cut off after {} bytes, within its header", file.size()),
                              file.size());
        if (!inside(file.size(), *offset, *length))
            return out.breaks(
                fmt::format("cut off: a part at byte {} ({} bytes) reaches past the end of "
                            "the file at {}",
                            *offset, *length, file.size()),
                file.size());
    }
}

void check_structure(Bytes file, const TiffStructure* tiff, Decoded& out) {
    if (tiff != nullptr) {
        const bool strict = tiff->dng() != nullptr;
        if (const auto problem = check_tiff_structure(*tiff, file.size(), strict))
            out.breaks(problem->why, problem->offset, problem->lost_from_line);
        if (const TiffDirectory* main = tiff->main_picture()) {
            out.width = static_cast<std::uint32_t>(tiff->number_or(*main, tag::width, 0));
            out.height = static_cast<std::uint32_t>(tiff->number_or(*main, tag::length, 0));
        }
    } else if (as_text(file).starts_with("FUJIFILMCCD-RAW")) {
        check_blocks(file, out);
    } else if (file.size() >= 8 && as_text(file.subspan(4, 4)) == "ftyp") {
        if (const auto problem = check_boxes(file)) out.breaks(problem->why, problem->offset);
    }
}

/// Sensor data that are not packed are proven by offsets and lengths alone.
bool proven_by_structure(const TiffStructure* tiff) {
    if (tiff == nullptr || !tiff->holds_raw()) return false;
    const TiffDirectory* main = tiff->main_picture();
    return main != nullptr && tiff->number_or(*main, tag::compression, 0) == 1 &&
           !tiff->chunks(*main).empty();
}

void check_digest(const TiffStructure& tiff, const std::optional<RawDecoder::Plane>& plane,
                  Decoded& out, Picture& picture) {
    const StoredDigest stored = stored_digest(tiff);
    picture.image_digest_stored = stored.hex;
    std::string computed = computed_digest(tiff, stored, plane);
    if (known_defect(stored, computed)) return;
    picture.image_digest_computed = std::move(computed);
    if (image_digest(picture) != ImageDigest::differs) return;
    out.breaks(fmt::format(
        "the picture data no longer have the digest that stands inside the DNG ({} {}): "
        "the picture itself has changed",
        stored.new_method ? "NewRawImageDigest" : "RawImageDigest", stored.hex));
}

/// Tiles that are not packed are proven by offsets and lengths; only the digest asks for their
/// values.
void check_tiles(Bytes file, const TiffStructure& tiff, Budget* budget, Decoded& out,
                 Picture& picture) {
    out.verdict = Verdict::whole;
    const auto leased = lease(budget, PlainPlane::bytes(tiff));
    const auto values = PlainPlane::read(file, tiff);
    check_digest(tiff, values ? std::optional(values->plane()) : std::nullopt, out, picture);
}

void unpack(Bytes file, const TiffStructure* tiff, Budget* budget, Decoded& out, Picture& picture) {
    RawDecoder decoder(file);
    decoder.describe(picture);
    if (tiff != nullptr && tiff->holds_raw() && plain_tiles(*tiff))
        return check_tiles(file, *tiff, budget, out, picture);
    if (!decoder.known()) {
        if (proven_by_structure(tiff))
            out.verdict = Verdict::whole;
        else
            out.why = fmt::format("LibRaw cannot unpack it ({})", decoder.why_unknown());
        return;
    }
    out.width = decoder.width();
    out.height = decoder.height();
    const auto leased = lease(budget, decoder.unpacked_bytes());
    switch (decoder.unpack()) {
        case RawDecoder::Unpacked::damaged:
            return out.breaks(decoder.why(), decoder.damage_offset());
        case RawDecoder::Unpacked::not_possible:
            if (proven_by_structure(tiff))
                out.verdict = Verdict::whole;
            else
                out.why = fmt::format("LibRaw cannot unpack it ({})", decoder.why());
            return;
        case RawDecoder::Unpacked::whole:
            break;
    }
    out.verdict = Verdict::whole;
    if (tiff != nullptr) check_digest(*tiff, decoder.plane(), out, picture);
}

Raster small(const std::string& jpeg, unsigned edge, Budget* budget) {
    JpegHead head;
    head.advance(as_bytes(jpeg));
    const auto leased = lease(budget, head.coefficient_bytes());
    Decoded decoded = decode_jpeg(as_bytes(jpeg), edge);
    return decoded.verdict == Verdict::whole ? std::move(decoded.thumbnail) : Raster{};
}

}  // namespace

Decoded check_raw(Bytes file, const TiffStructure* tiff, Budget* budget, Picture& picture) {
    Decoded out;
    check_structure(file, tiff, out);
    if (tiff != nullptr) picture.image_digest_stored = stored_digest(*tiff).hex;
    if (!out.is_broken()) unpack(file, tiff, budget, out, picture);
    return out;
}

Raster raw_thumbnail(Bytes file, unsigned edge, Budget* budget) {
    const std::vector<Preview> previews = embedded_previews(file);
    // Smallest first, so that a large preview is only decoded when no smaller one fills the
    // thumbnail.
    for (const bool large_enough : {true, false})
        for (auto preview = previews.rbegin(); preview != previews.rend(); ++preview) {
            if ((preview->edge() >= edge) != large_enough) continue;
            if (Raster found = small(preview->jpeg, edge, budget); !found.empty()) return found;
        }
    RawDecoder decoder(file);
    if (!decoder.known()) return {};
    const auto leased = lease(budget, decoder.rendered_bytes());
    if (const std::string jpeg = decoder.embedded_jpeg(); !jpeg.empty()) {
        if (Decoded decoded = decode_jpeg(as_bytes(jpeg), edge); decoded.verdict == Verdict::whole)
            return std::move(decoded.thumbnail);
    }
    if (decoder.unpack() != RawDecoder::Unpacked::whole) return {};
    return decoder.render(edge);
}

}  // namespace glassine::photo
