#include "characters.h"
#include "checksum_text.h"
#include "glassine/bagit/manifest.h"
#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "mark.h"
#include "words.h"

#include <algorithm>
#include <cstring>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

using enum FindingKind;

/// bytes kept of a line. The standard sets no limit; no file system takes a path of this length.
constexpr std::size_t longest_manifest_line = 1u << 20;

std::size_t blank_at(std::string_view text) {
    return std::min(text.find_first_of(" \t"), text.size());
}

std::size_t text_at(std::string_view text, std::size_t from) {
    while (from < text.size() && is_blank(text[from]))
        ++from;
    return from;
}

/// How checksum tools write names with backslashes and line breaks.
std::string without_tool_escapes(std::string_view path) {
    std::string out;
    for (std::size_t i = 0; i < path.size(); ++i) {
        const char next = path[i] == '\\' && i + 1 < path.size() ? path[i + 1] : '\0';
        if (next != '\\' && next != 'n' && next != 'r') {
            out += path[i];
            continue;
        }
        out += next == 'n' ? '\n' : next == 'r' ? '\r' : '\\';
        ++i;
    }
    return out;
}

}  // namespace

ManifestParser::ManifestParser(Manifest& into, const Encoding& encoding, const Rules& rules,
                               Report report, ManifestRoom room)
    : into_(into),
      encoding_(encoding),
      rules_(rules),
      report_(std::move(report)),
      room_(room),
      digest_size_(into.name().computable ? digest::size(*into.name().computable) : 0),
      digest_(digest_size_),
      lines_(encoding, longest_manifest_line, [this](const Line& l) { line(l); }) {}

void ManifestParser::problem(Weight weight, const Line& line, std::string_view detail) {
    if (!weight) return;
    Finding finding = found(manifest_malformed, *weight, into_.file(),
                            fmt::format("line {} {}", line.number, detail));
    finding.offset = line.offset;
    if (line.offset) finding.length = line.text.size();
    report_(std::move(finding));
}

void ManifestParser::habit(FindingKind kind, Weight weight, const Habit& habit,
                           std::string_view detail) {
    if (!weight || habit.count == 0) return;
    report_(found(kind, *weight, into_.file(),
                  fmt::format("{} {}, first in line {}", text::counted(habit.count, "line"), detail,
                              habit.first)));
}

void ManifestParser::line(const Line& line) {
    last_ended_ = line.ended;
    if (line.torn) return into_.set_torn();
    if (line.too_long) return problem(Severity::damage, line, "is longer than 1 MiB");
    if (line.ill_formed) problem(Severity::damage, line, fmt::format("is not {}", encoding_.name));
    const std::size_t begin = text_at(line.text, 0);
    if (begin == line.text.size()) return empty_lines_.met(line);
    if (begin > 0) problem(Severity::damage, line, "begins with a blank");
    const bool escaped = line.text[begin] == '\\';
    if (escaped) escaped_.met(line);
    entry(line, line.text.substr(begin + (escaped ? 1 : 0)), escaped);
}

void ManifestParser::entry(const Line& line, std::string_view text, bool escaped_by_tool) {
    // In nearly every line the checksum has its proper length: no need to look for its end.
    const std::size_t usual = digest_size_ * 2;
    const std::size_t end =
        usual > 0 && text.size() > usual && is_blank(text[usual]) ? usual : blank_at(text);
    const std::string_view checksum = text.substr(0, end);
    const std::string_view written = text.substr(text_at(text, end));
    if (written.empty())
        return problem(Severity::damage, line,
                       fmt::format("is not a checksum and a path: “{}”", excerpt(line.text)));
    const bool good = digest(checksum);
    if (!good)
        problem(Severity::damage, line,
                fmt::format("has no {} checksum: “{}”", algorithm_words(into_.name().algorithm),
                            excerpt(checksum)));
    if (!good && !is_hex(checksum) && !in_payload(written)) return;  // prose, not an entry
    if (!good) digest_.clear();
    path(line, written, escaped_by_tool);
}

bool ManifestParser::digest(std::string_view checksum) {
    if (digest_size_ == 0) return is_hex(checksum);
    digest_.resize(digest_size_);
    return read_hex(checksum, digest_) ||
           (rules_.base64_checksums && read_base64(checksum, digest_));
}

void ManifestParser::path(const Line& line, std::string_view written, bool escaped_by_tool) {
    std::string changed;
    std::string_view path = written;
    if (escaped_by_tool) path = changed = without_tool_escapes(path);
    if (rules_.percent_encoded_paths && path.find('%') != std::string_view::npos) {
        bool stray = false;
        changed = decode_path(path, &stray);
        path = changed;
        if (stray) stray_percent_.met(line);
    }
    if (!is_canonical_path(path) && !unsafe_path(path)) {
        changed = canonical_path(path);
        path = changed;
        not_canonical_.met(line);
    }
    if (!usable(line, path)) return;
    keep(line, path);
}

void ManifestParser::keep(const Line& line, std::string_view path) {
    if (into_.size() >= room_.entries || path.size() > room_.path_bytes) {
        ++left_out_;
        return;
    }
    room_.path_bytes -= path.size();
    into_.add(path, digest_,
              static_cast<std::uint32_t>(std::min<std::uint64_t>(line.number, UINT32_MAX)));
}

bool ManifestParser::usable(const Line& line, std::string_view path) {
    if (const auto why = unsafe_path(path)) {
        report_(found(path_unsafe, Severity::damage, shown_path(path),
                      fmt::format("{}, line {}: the path is not followed, for {}", into_.file(),
                                  line.number, *why)));
        return false;
    }
    if (path.ends_with('/')) {
        problem(Severity::damage, line,
                fmt::format("names a folder, not a file: “{}”", excerpt(path)));
        return false;
    }
    return true;
}

void ManifestParser::finish() {
    lines_.finish();
    const auto [weight, why] = judge_mark(lines_.marked(), encoding_, rules_);
    if (weight) report_(found(manifest_malformed, *weight, into_.file(), why));
    habit(manifest_malformed, rules_.empty_line, empty_lines_, "without checksum and path");
    habit(path_form, Severity::warning, not_canonical_, "with “./” or “//” in the path");
    habit(path_form, Severity::damage, escaped_,
          "with the backslash that checksum tools put first");
    habit(path_form, Severity::damage, stray_percent_,
          "with a % that is not %0A, %0D or %25, taken as it is");
    if (!last_ended_)
        report_(found(standard_discouraged, Severity::warning, into_.file(),
                      "its last line has no line end"));
    if (left_out_ > 0)
        report_(found(manifest_malformed, Severity::damage, into_.file(),
                      fmt::format("it lists far more files than there are; {} left out",
                                  text::counted(left_out_, "line"))));
}

}  // namespace glassine::bagit
