#pragma once

#include "glassine/photo/picture.h"

#include <cstddef>
#include <span>
#include <string>
#include <string_view>

/// Looking at one picture file that is held in memory.
///
/// Picture files are written by strangers. Nothing here throws because of what a file holds, and
/// whatever a format library throws, warns or jumps ends as a verdict with a sentence. All
/// functions may run on several threads at once.
namespace glassine::photo {

/// What is to be made of a picture beside its description.
struct Wishes {
    unsigned thumbnail_edge = 0;  ///< long edge in pixels, e.g. 320; 0: no thumbnail
    bool proxy = false;           ///< for raws: a JPEG that can stand for the frame
};

/// What one look at a picture gave.
struct Examined {
    Picture picture;
    /// A small JPEG, upright, in sRGB as near as a small matrix gets it; empty when not wished for,
    /// or when no row of the picture could be decoded.
    std::string thumbnail;
    /// See `make_proxy`; empty when not wished for or not possible.
    std::string proxy;
    std::string proxy_why;  ///< why there is none although it was wished for
    /// The file had to be read a second time (see `PictureSink`) and gave other bytes than before:
    /// a failing card reader, cable or memory. The verdict is then `not_checkable`.
    bool unstable = false;
};

/// What a file is, by its first bytes (64 are plenty), with its name deciding where the bytes leave
/// it open: a TIFF header may begin a scan or a maker's raw. `examine` looks deeper and has the
/// last word.
Kind kind_of(std::span<const std::byte> head, std::string_view name);

/// By the name alone: what the file claims to be.
Kind kind_of_name(std::string_view name);

/// Everything: kind, metadata, verdict, thumbnail, proxy. `bytes` is the whole file.
Examined examine(std::span<const std::byte> bytes, std::string_view name,
                 const Wishes& wishes = {});

/// Can the image digest that a DNG carries inside tell whether the picture itself is as its maker
/// left it? `matches` beside an altered file digest means: the metadata changed, the picture did
/// not.
enum class ImageDigest { none, not_computed, matches, differs };
ImageDigest image_digest(const Picture& picture);

}  // namespace glassine::photo
