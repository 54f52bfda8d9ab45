#include "glassine/photo/picture.h"

#include "glassine/photo/examine.h"

namespace glassine::photo {

std::string_view word(Kind kind) {
    switch (kind) {
        case Kind::jpeg:
            return "JPEG";
        case Kind::tiff:
            return "TIFF";
        case Kind::png:
            return "PNG";
        case Kind::heif:
            return "HEIF";
        case Kind::dng:
            return "DNG";
        case Kind::raw:
            return "raw";
        case Kind::xmp:
            return "XMP";
        case Kind::other:
            break;
    }
    return "other";
}

bool is_raw(Kind kind) {
    return kind == Kind::dng || kind == Kind::raw;
}

ImageDigest image_digest(const Picture& picture) {
    if (picture.image_digest_stored.empty()) return ImageDigest::none;
    if (picture.image_digest_computed.empty()) return ImageDigest::not_computed;
    return picture.image_digest_stored == picture.image_digest_computed ? ImageDigest::matches
                                                                        : ImageDigest::differs;
}

}  // namespace glassine::photo
