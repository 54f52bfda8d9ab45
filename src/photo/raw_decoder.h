#pragma once

#include "glassine/photo/picture.h"
#include "photo/bytes.h"
#include "photo/raster.h"

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

namespace glassine::photo {

/// A raw in the hands of LibRaw. The file must outlive it; one thread at a time.
class RawDecoder {
  public:
    explicit RawDecoder(Bytes file);
    ~RawDecoder();

    /// LibRaw knows the camera (or it is a DNG) and could read the file's directories.
    bool known() const { return known_; }
    const std::string& why_unknown() const { return why_; }

    /// What LibRaw read of camera, body, time and size, for files that Exiv2 cannot read: fills
    /// only what is still empty.
    void describe(Picture& picture) const;
    std::uint32_t width() const;
    std::uint32_t height() const;

    /// Bytes that `unpack` (or `render`) takes, about.
    std::uint64_t unpacked_bytes() const;
    std::uint64_t rendered_bytes() const;

    enum class Unpacked { whole, damaged, not_possible };
    /// Unpacks the sensor's data to the last value.
    Unpacked unpack();
    const std::string& why() const { return why_; }
    std::optional<std::uint64_t> damage_offset() const { return damage_offset_; }

    /// The sensor's values as they stand in the file, after `unpack`: one plane, rows from the top.
    struct Plane {
        const std::uint16_t* values = nullptr;
        std::uint32_t width = 0;
        std::uint32_t height = 0;
        std::size_t stride = 0;  ///< values from row to row
    };
    std::optional<Plane> plane() const;

    /// The embedded JPEG that LibRaw finds; empty when there is none.
    std::string embedded_jpeg();
    /// Developed at half size or smaller, sRGB, not turned; empty when that is not possible.
    Raster render(unsigned edge);

  private:
    struct Engine;
    std::unique_ptr<Engine> engine_;
    bool known_ = false;
    std::string why_;
    std::optional<std::uint64_t> damage_offset_;
};

}  // namespace glassine::photo
