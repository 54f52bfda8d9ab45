#include "glassine/photo/examine.h"

#include "photo/formats.h"
#include "photo/jpeg_decoder.h"
#include "photo/jpeg_head.h"
#include "photo/metadata.h"
#include "photo/raw_check.h"
#include "photo/within.h"
#include "photo/xml_check.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace glassine::photo {

namespace {

using namespace std::string_view_literals;

constexpr int thumbnail_quality = 82;
/// TIFF, BigTIFF and the makers' headers that are followed by TIFF directories.
bool begins_like_tiff(Bytes file) {
    constexpr std::array headers{"II*\0"sv, "MM\0*"sv, "II+\0"sv, "MM\0+"sv,
                                 "IIRO"sv,  "IIRS"sv,  "MMOR"sv,  "IIU\0"sv};
    return std::ranges::any_of(headers,
                               [&](auto header) { return as_text(file).starts_with(header); });
}

bool all_zero(Bytes bytes) {
    return std::ranges::all_of(bytes, [](std::byte b) { return b == std::byte{0}; });
}

class Examining {
  public:
    Examining(Bytes bytes, std::string_view name, const Wishes& wishes, Budget* budget)
        : bytes_(bytes), wishes_(wishes), budget_(budget) {
        picture_.kind = kind_of(bytes.first(std::min(bytes.size(), head_size)), name);
    }

    Examined run() {
        switch (picture_.kind) {
            case Kind::jpeg:
                jpeg();
                break;
            case Kind::tiff:
            case Kind::dng:
            case Kind::raw:
                tiff_or_raw();
                break;
            case Kind::png:
                read_metadata(bytes_, picture_);
                decoded_ = check_png(bytes_, wishes_.thumbnail_edge, budget_);
                break;
            case Kind::heif:
                heif();
                break;
            case Kind::xmp:
                sidecar();
                break;
            case Kind::other:
                decoded_.why = "not a kind of picture that can be looked into";
                break;
        }
        Examined out = conclude(std::move(picture_), std::move(decoded_));
        if (wishes_.proxy && is_raw(out.picture.kind)) proxy(out);
        return out;
    }

  private:
    void jpeg() {
        read_metadata(bytes_, picture_);
        JpegHead head;
        head.advance(bytes_);
        const auto leased = lease(budget_, head.coefficient_bytes());
        decoded_ = decode_jpeg(bytes_, wishes_.thumbnail_edge);
    }

    void tiff_or_raw() {
        if (!begins_like_tiff(bytes_)) return other_raw();
        const TiffStructure tiff(bytes_);
        if (tiff.dng() != nullptr)
            picture_.kind = Kind::dng;
        else if (picture_.kind == Kind::tiff && tiff.holds_raw())
            picture_.kind = Kind::raw;
        read_metadata(bytes_, picture_);
        if (picture_.kind == Kind::tiff) {
            decoded_ = check_tiff(bytes_, tiff, wishes_.thumbnail_edge, budget_);
        } else {
            decoded_ = check_raw(bytes_, &tiff, budget_, picture_);
            raw_picture();
        }
    }

    void other_raw() {
        const Bytes head = bytes_.first(std::min<std::size_t>(bytes_.size(), 4096));
        const bool named_only = kind_of(head, "") == Kind::other;
        if (named_only && (picture_.kind != Kind::raw || all_zero(head))) {
            decoded_.breaks(fmt::format("it does not begin like a {} file", word(picture_.kind)),
                            0);
            return;
        }
        read_metadata(bytes_, picture_);
        decoded_ = check_raw(bytes_, nullptr, budget_, picture_);
        raw_picture();
    }

    void raw_picture() {
        if (wishes_.thumbnail_edge != 0)
            decoded_.thumbnail = raw_thumbnail(bytes_, wishes_.thumbnail_edge, budget_);
    }

    void heif() {
        read_metadata(bytes_, picture_);
        decoded_ = check_heif(bytes_, wishes_.thumbnail_edge, budget_);
        // libheif has turned it already.
        picture_.orientation = 1;
    }

    void sidecar() {
        const XmlResult xml = check_xml(bytes_);
        decoded_.verdict = xml.verdict;
        decoded_.why = xml.why;
        if (xml.verdict == Verdict::broken) decoded_.broken_offset = xml.offset;
        if (xml.verdict == Verdict::whole) read_packet(bytes_, picture_);
    }

    void proxy(Examined& out) {
        Proxy made = make_proxy_within(bytes_, smallest_proxy_edge, budget_);
        out.proxy = std::move(made.jpeg);
        out.proxy_why = std::move(made.why);
    }

    Bytes bytes_;
    const Wishes& wishes_;
    Budget* budget_;
    Picture picture_;
    Decoded decoded_;
};

}  // namespace

Examined conclude(Picture picture, Decoded decoded) {
    picture.verdict = decoded.verdict;
    if (decoded.verdict != Verdict::whole) picture.why = std::move(decoded.why);
    picture.broken_offset = decoded.broken_offset;
    picture.lost_from_line = decoded.lost_from_line;
    picture.trailing_data = decoded.trailing_data;
    picture.width = decoded.width;
    picture.height = decoded.height;
    Examined out;
    if (!decoded.thumbnail.empty()) {
        if (picture.color_space == ColorSpace::adobe_rgb) adobe_rgb_to_srgb(decoded.thumbnail);
        out.thumbnail = encode_jpeg(upright(std::move(decoded.thumbnail), picture.orientation),
                                    thumbnail_quality);
    }
    out.picture = std::move(picture);
    return out;
}

Examined examine_within(Bytes bytes, std::string_view name, const Wishes& wishes, Budget* budget) {
    return Examining(bytes, name, wishes, budget).run();
}

Examined examine(std::span<const std::byte> bytes, std::string_view name, const Wishes& wishes) {
    return examine_within(bytes, name, wishes, nullptr);
}

}  // namespace glassine::photo
