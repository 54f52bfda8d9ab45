#include "glassine/bagit/fetch.h"

#include "characters.h"
#include "glassine/bagit/layout.h"
#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "mark.h"
#include "words.h"

#include <algorithm>
#include <charconv>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

using enum FindingKind;

constexpr std::size_t longest_fetch_line = 64u << 10;  ///< bytes kept of a line

/// Takes the next field off a line, with the blanks behind it.
std::string_view next_field(std::string_view& rest) {
    const std::size_t end = std::min(rest.find_first_of(" \t"), rest.size());
    const std::string_view field = rest.substr(0, end);
    rest.remove_prefix(std::min(rest.find_first_not_of(" \t", end), rest.size()));
    return field;
}

bool is_length(std::string_view text) {
    return text == "-" || (!text.empty() &&
                           std::ranges::all_of(text, [](char c) { return c >= '0' && c <= '9'; }));
}

}  // namespace

bool is_absolute_uri(std::string_view text) {
    const std::size_t colon = text.find(':');
    if (colon == std::string_view::npos || colon == 0 || colon + 1 == text.size()) return false;
    if (!is_letter(text[0])) return false;
    const bool scheme = std::ranges::all_of(text.substr(0, colon), [](char c) {
        return is_letter(c) || (c >= '0' && c <= '9') || c == '+' || c == '-' || c == '.';
    });
    return scheme && std::ranges::none_of(text, [](char c) {
               return static_cast<unsigned char>(c) <= 0x20 || c == 0x7F;
           });
}

FetchParser::FetchParser(std::vector<FetchEntry>& into, const Encoding& encoding,
                         const Rules& rules, Report report, std::size_t room)
    : into_(into),
      encoding_(encoding),
      rules_(rules),
      report_(std::move(report)),
      room_(room),
      lines_(encoding, longest_fetch_line, [this](const Line& l) { line(l); }) {}

void FetchParser::problem(Weight weight, const Line& line, std::string_view detail) {
    if (!weight) return;
    Finding finding = found(fetch_malformed, *weight, std::string(fetch_file),
                            fmt::format("line {} {}", line.number, detail));
    finding.offset = line.offset;
    if (line.offset) finding.length = line.text.size();
    report_(std::move(finding));
}

void FetchParser::line(const Line& line) {
    last_ended_ = line.ended;
    if (line.torn) return;
    if (line.too_long) return problem(Severity::damage, line, "is longer than 64 KiB");
    if (line.ill_formed) problem(Severity::damage, line, fmt::format("is not {}", encoding_.name));
    std::string_view rest = line.text;
    if (rest.find_first_not_of(" \t") == std::string_view::npos)
        return problem(rules_.empty_line, line, "is empty");
    if (rest[0] == ' ' || rest[0] == '\t') {
        problem(Severity::damage, line, "begins with a blank");
        next_field(rest);
    }
    const std::string_view url = next_field(rest);
    const std::string_view length = next_field(rest);
    if (rest.empty())
        return problem(Severity::damage, line,
                       fmt::format("is not a URL, a length and a path: “{}”", excerpt(line.text)));
    entry(line, url, length, rest);
}

void FetchParser::entry(const Line& line, std::string_view url, std::string_view length,
                        std::string_view written) {
    if (!is_absolute_uri(url))
        problem(Severity::damage, line, fmt::format("has no absolute URL: “{}”", excerpt(url)));
    if (!is_length(length))
        problem(
            Severity::damage, line,
            fmt::format("has a length that is neither a number nor “-”: “{}”", excerpt(length)));
    std::string path(written);
    if (rules_.fetch_leading_slash && path.starts_with('/')) path.erase(0, 1);
    if (rules_.percent_encoded_paths) {
        bool stray = false;
        path = decode_path(path, &stray);
        if (stray) problem(Severity::damage, line, "has a % that is not %0A, %0D or %25");
    }
    if (!unsafe_path(path) && !is_canonical_path(path)) {
        path = canonical_path(path);
        report_(found(path_form, Severity::warning, shown_path(path),
                      fmt::format("fetch.txt, line {}: “./” or “//” in the path", line.number)));
    }
    if (const auto why = unsafe_path(path)) {
        report_(found(path_unsafe, Severity::damage, shown_path(path),
                      fmt::format("fetch.txt, line {}: the path is not followed, for {}",
                                  line.number, *why)));
        return;
    }
    if (!in_payload(path) || path.ends_with('/'))
        return problem(Severity::damage, line,
                       fmt::format("names no payload file: “{}”", excerpt(path)));
    const std::size_t cost = sizeof(FetchEntry) + url.size() + path.size();
    if (cost > room_) {
        ++left_out_;
        return;
    }
    room_ -= cost;
    into_.push_back({std::string(url), length == "-" ? std::nullopt : number(length),
                     std::move(path), static_cast<std::uint32_t>(line.number)});
}

void FetchParser::finish() {
    lines_.finish();
    const auto [weight, why] = judge_mark(lines_.marked(), encoding_, rules_);
    if (weight) report_(found(fetch_malformed, *weight, std::string(fetch_file), why));
    if (!last_ended_)
        report_(found(standard_discouraged, Severity::warning, std::string(fetch_file),
                      "its last line has no line end"));
    if (left_out_ > 0)
        report_(found(fetch_malformed, Severity::damage, std::string(fetch_file),
                      fmt::format("it lists more files than can be kept; {} left out",
                                  text::counted(left_out_, "line"))));
}

}  // namespace glassine::bagit
