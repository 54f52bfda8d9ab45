#pragma once

#include "glassine/bagit/rules.h"
#include "glassine/bagit/text_lines.h"
#include "glassine/base/finding.h"

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// fetch.txt (8493 §2.2.3). It is read, checked and reported; nothing is ever fetched.
namespace glassine::bagit {

struct FetchEntry {
    std::string url;
    std::optional<std::uint64_t> length;  ///< bytes; a hint only (§5.3)
    std::string path;                     ///< decoded, canonical
    std::uint32_t line = 0;
};

class FetchParser {
  public:
    using Report = std::function<void(Finding)>;
    /// `room`: bytes of entries that are kept; further ones are reported once and left out.
    FetchParser(std::vector<FetchEntry>& into, const Encoding& encoding, const Rules& rules,
                Report report, std::size_t room = 128u << 20);
    FetchParser(const FetchParser&) = delete;
    void feed(std::span<const std::byte> bytes) { lines_.feed(bytes); }
    void gap(std::uint64_t length) { lines_.gap(length); }
    void finish();

  private:
    void line(const Line& line);
    void entry(const Line& line, std::string_view url, std::string_view length,
               std::string_view path);
    void problem(Weight weight, const Line& line, std::string_view detail);

    std::vector<FetchEntry>& into_;
    Encoding encoding_;
    const Rules& rules_;
    Report report_;
    std::size_t room_;
    std::size_t left_out_ = 0;
    bool last_ended_ = true;
    LineReader lines_;
};

/// An absolute URI by the look of it: scheme, colon, something, and no blank or control character
/// (RFC 3986 §4.3).
bool is_absolute_uri(std::string_view text);

}  // namespace glassine::bagit
