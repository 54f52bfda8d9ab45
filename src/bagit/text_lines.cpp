#include "glassine/bagit/text_lines.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <cstring>

namespace glassine::bagit {
namespace {

constexpr std::string_view utf8_mark = "\xEF\xBB\xBF";
/// Enough to tell a byte order mark from text.
constexpr std::size_t head_size = 4;

bool all_ascii(std::string_view text) {
    std::uint64_t high = 0;
    std::size_t i = 0;
    for (; i + 8 <= text.size(); i += 8) {
        std::uint64_t word;
        std::memcpy(&word, text.data() + i, 8);
        high |= word;
    }
    for (; i < text.size(); ++i)
        high |= static_cast<std::uint64_t>(static_cast<unsigned char>(text[i]));
    return (high & 0x8080808080808080u) == 0;
}

/// Where the next `wanted` stands at or behind `at`, looked for once and remembered.
class Finder {
  public:
    Finder(std::string_view text, char wanted) : text_(text), wanted_(wanted) { look(0); }
    std::size_t from(std::size_t at) {
        if (next_ < at) look(at);
        return next_;
    }

  private:
    void look(std::size_t at) {
        const void* found = at < text_.size()
                                ? std::memchr(text_.data() + at, wanted_, text_.size() - at)
                                : nullptr;
        next_ = found ? static_cast<std::size_t>(static_cast<const char*>(found) - text_.data())
                      : text_.size();
    }
    std::string_view text_;
    char wanted_;
    std::size_t next_ = 0;
};

}  // namespace

LineReader::LineReader(Encoding encoding, std::size_t longest, OnLine on_line)
    : encoding_(std::move(encoding)), longest_(longest), on_line_(std::move(on_line)) {
    if (!encoding_.utf8) decoder_.emplace(encoding_);
}

void LineReader::feed(std::span<const std::byte> bytes) {
    std::string_view text(reinterpret_cast<const char*>(bytes.data()), bytes.size());
    if (begun_) return convert(text);
    const std::size_t missing = std::min(head_size - head_.size(), text.size());
    head_ += text.substr(0, missing);
    if (head_.size() < head_size) return;
    begin(head_);
    convert(text.substr(missing));
}

/// The first bytes: a byte order mark is no text.
void LineReader::begin(std::string_view bytes) {
    begun_ = true;
    if (encoding_.utf8 && bytes.starts_with(utf8_mark)) {
        marked_ = true;
        bytes.remove_prefix(utf8_mark.size());
        line_offset_ = utf8_mark.size();
    }
    if (encoding_.needs_mark)
        marked_ = bytes.starts_with("\xFE\xFF") || bytes.starts_with("\xFF\xFE") ||
                  bytes.starts_with(std::string_view("\0\0\xFE\xFF", 4));
    convert(bytes);
}

void LineReader::convert(std::string_view bytes) {
    if (!decoder_) return take(bytes);
    constexpr std::size_t step = 64u << 10;
    for (std::size_t at = 0; at < bytes.size(); at += step) {
        const std::string_view part = bytes.substr(at, step);
        decoded_.clear();
        decoder_->decode(std::as_bytes(std::span(part.data(), part.size())), decoded_);
        std::string_view text = decoded_;
        if (number_ == 1 && carried_ == 0 && text.starts_with(utf8_mark)) {
            marked_ = true;
            text.remove_prefix(utf8_mark.size());
        }
        take(text);
    }
}

void LineReader::skip_lf(std::string_view& text) {
    if (text.empty() || !after_cr_) return;
    after_cr_ = false;
    if (text[0] != '\n') return;
    text.remove_prefix(1);
    ++line_offset_;
}

void LineReader::take(std::string_view text) {
    skip_lf(text);
    const bool check = !decoder_ && !all_ascii(text);
    Finder lf(text, '\n');
    Finder cr(text, '\r');
    std::size_t at = 0;
    for (;;) {
        const std::size_t end = std::min(lf.from(at), cr.from(at));
        if (end == text.size()) break;
        std::size_t end_length = 1;
        if (text[end] == '\r') {
            if (end + 1 == text.size())
                after_cr_ = true;
            else if (text[end + 1] == '\n')
                end_length = 2;
        }
        emit(text.substr(at, end - at), end_length, check);
        at = end + end_length;
    }
    keep(text.substr(at));
}

/// The beginning of a line: kept as far as the limit goes.
void LineReader::keep(std::string_view text) {
    if (carry_.size() < longest_ + 1) carry_ += text.substr(0, longest_ + 1 - carry_.size());
    carried_ += text.size();
}

void LineReader::emit(std::string_view text, std::size_t end_length, bool check_utf8) {
    const std::uint64_t length = carried_ + text.size();
    if (carried_ > 0) {
        keep(text);
        text = carry_;
        check_utf8 = !decoder_;
    }
    Line line;
    line.too_long = length > longest_;
    line.text = text.substr(0, longest_);
    line.number = number_++;
    if (!decoder_) line.offset = line_offset_;
    line.ended = end_length > 0;
    line.torn = torn_;
    std::string shown;
    if (decoder_) {
        line.ill_formed = line.text.find(ill_formed_mark) != std::string_view::npos;
        if (line.ill_formed) line.text = shown = without_marks(line.text);
    } else if (check_utf8 && !line.too_long) {
        line.ill_formed = !text::is_utf8(line.text);
    }
    line_offset_ += length + end_length;
    torn_ = false;
    on_line_(line);
    carry_.clear();
    carried_ = 0;
}

void LineReader::gap(std::uint64_t length) {
    if (!begun_) begin(head_);
    torn_ = true;
    after_cr_ = false;
    line_offset_ += length;
}

void LineReader::finish() {
    if (!begun_) begin(head_);
    if (decoder_) {
        decoded_.clear();
        decoder_->finish(decoded_);
        take(decoded_);
    }
    if (carried_ > 0 || torn_) emit({}, 0, true);
}

}  // namespace glassine::bagit
