#pragma once

#include "glassine/bagit/encoding.h"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace glassine::bagit {

/// One line of a text tag file, in UTF-8, without its line end.
struct Line {
    std::string_view text;
    std::uint64_t number = 1;  ///< counted from 1
    std::optional<std::uint64_t>
        offset;             ///< of its first byte in the file, where text and file bytes correspond
    bool ended = true;      ///< by LF, CR or CRLF; false for a last line that ends with the file
    bool too_long = false;  ///< longer than the limit: `text` holds its beginning only
    bool ill_formed = false;  ///< holds bytes that are none in the encoding
    bool torn =
        false;  ///< bytes before, in or behind it could not be read: `text` is not the whole line
};

/// Cuts a text tag file into lines (8493 §2.3-2: LF, CR or CRLF) while its bytes arrive in pieces.
/// Memory is bounded by the limit on a line, whatever the file's size.
class LineReader {
  public:
    using OnLine = std::function<void(const Line&)>;

    /// `longest`: bytes kept of a line.
    LineReader(Encoding encoding, std::size_t longest, OnLine on_line);

    void feed(std::span<const std::byte> bytes);
    void feed(std::string_view text) { feed(std::as_bytes(std::span(text.data(), text.size()))); }
    /// Bytes that could not be read stand here.
    void gap(std::uint64_t length);
    void finish();

    /// The file began with a byte order mark.
    bool marked() const { return marked_; }

  private:
    void begin(std::string_view bytes);
    void convert(std::string_view bytes);
    void take(std::string_view text);
    void skip_lf(std::string_view& text);
    void keep(std::string_view text);
    void emit(std::string_view text, std::size_t end_length, bool check_utf8);

    Encoding encoding_;
    std::optional<Decoder> decoder_;
    std::size_t longest_;
    OnLine on_line_;
    std::string head_;   ///< the first bytes of the file, until a mark is told from text
    std::string carry_;  ///< the beginning of a line whose end has not arrived
    std::string decoded_;
    std::uint64_t number_ = 1;
    std::uint64_t line_offset_ = 0;  ///< of the present line in the file
    std::uint64_t carried_ = 0;      ///< bytes of the present line met so far, kept or not
    bool begun_ = false;
    bool marked_ = false;
    bool after_cr_ = false;  ///< an LF that comes next belongs to the CR before it
    bool torn_ = false;
};

}  // namespace glassine::bagit
