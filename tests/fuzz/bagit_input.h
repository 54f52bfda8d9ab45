#pragma once

#include "glassine/bagit/encoding.h"
#include "glassine/bagit/rules.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <span>
#include <string_view>

namespace glassine::fuzz {

/// A text tag file, and how it is to be read: the first byte chooses the bag's version, the second
/// the encoding, the third the size of the pieces in which it arrives.
struct TagInput {
    std::string_view version = "1.0";
    std::string_view encoding = "UTF-8";
    std::size_t step = 1;
    std::span<const std::byte> content;

    TagInput(const std::uint8_t* data, std::size_t size) {
        constexpr std::array versions{"1.0", "0.97", "0.96", "0.95", "0.94", "0.93", "7.1"};
        constexpr std::array encodings{"UTF-8", "UTF-16", "ISO-8859-1", "UTF-16LE", "Shift_JIS"};
        if (size < 3) return;
        version = versions[data[0] % versions.size()];
        encoding = encodings[data[1] % encodings.size()];
        step = 1 + data[2] % 64;
        content = std::as_bytes(std::span(data + 3, size - 3));
    }

    template <typename Parser>
    void whole(Parser& parser) const {
        parser.feed(content);
        parser.finish();
    }
    template <typename Parser>
    void in_pieces(Parser& parser) const {
        for (std::size_t at = 0; at < content.size(); at += step)
            parser.feed(content.subspan(at, std::min(step, content.size() - at)));
        parser.finish();
    }
};

/// What must hold for every input.
inline void require(bool holds) {
    if (!holds) std::abort();
}

}  // namespace glassine::fuzz
