#include "report/json_parts.h"

#include "glassine/base/text.h"
#include "glassine/base/version.h"

#include <utility>

#include <fmt/format.h>

namespace glassine::report {

Json common(const Common& result) {
    Json out;
    out["command"] = result.command;
    out["glassine"] = version();
    out["started"] = rfc3339(result.started);
    out["finished"] = rfc3339(result.finished);
    out["outcome"] = word(result.ending);
    return out;
}

namespace {

Json finding(const Finding& f) {
    Json out;
    out["kind"] = word(f.kind);
    out["severity"] = word(f.severity);
    out["path"] = text::to_utf8(f.path);
    // A path that is not UTF-8 cannot be told by its text alone.
    if (!text::is_utf8(f.path)) out["path_hex"] = text::hex(std::as_bytes(std::span(f.path)));
    out["detail"] = text::to_utf8(f.detail);
    if (f.offset) out["offset"] = *f.offset;
    if (f.length) out["length"] = *f.length;
    return out;
}

}  // namespace

Json day(const std::optional<Date>& date) {
    return date ? Json(iso_date(*date)) : Json();
}

Json findings(const std::vector<Finding>& list) {
    Json out = Json::array();
    for (const Finding& f : list)
        out.push_back(finding(f));
    return out;
}

Json sections(const std::vector<SectionCount>& list) {
    Json out = Json::array();
    for (const SectionCount& s : list)
        out.push_back({{"section", job::word(s.section)},
                       {"files", s.files},
                       {"bytes", s.bytes},
                       {"pictures", s.pictures}});
    return out;
}

Json texts(const std::vector<std::string>& list) {
    Json out = Json::array();
    for (const std::string& text : list)
        out.push_back(text::to_utf8(text));
    return out;
}

namespace {

/// DEL, C1 controls and what turns the direction of writing: a parser reads the same from their
/// escapes (RFC 8259 §7), and a terminal is not driven by them.
bool drives_a_terminal(unsigned code) {
    return (code >= 0x7F && code <= 0x9F) || code == 0x61C || (code >= 0x200E && code <= 0x200F) ||
           (code >= 0x2028 && code <= 0x202E) || (code >= 0x2066 && code <= 0x2069);
}

/// The character at `at` of well-formed UTF-8, and its length; 0 for one that takes four bytes.
std::pair<unsigned, std::size_t> character(const std::string& text, std::size_t at) {
    const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[at + i]); };
    if (byte(0) < 0x80) return {byte(0), 1};
    if (byte(0) < 0xE0) return {(byte(0) & 0x1Fu) << 6 | (byte(1) & 0x3Fu), 2};
    if (byte(0) < 0xF0)
        return {(byte(0) & 0x0Fu) << 12 | (byte(1) & 0x3Fu) << 6 | (byte(2) & 0x3Fu), 3};
    return {0, 4};
}

}  // namespace

std::string printed(const Json& json) {
    const std::string text = json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
    std::string out;
    out.reserve(text.size());
    for (std::size_t at = 0; at < text.size();) {
        const auto [code, length] = character(text, at);
        if (drives_a_terminal(code))
            out += fmt::format("\\u{:04x}", code);
        else
            out.append(text, at, length);
        at += length;
    }
    return out;
}

}  // namespace glassine::report
