#include "companion.h"

#include "glassine/base/text.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::bagit {

std::optional<CompanionName> companion_name(std::string_view file_name) {
    const std::size_t dot = file_name.rfind('.');
    if (dot == std::string_view::npos || dot == 0) return std::nullopt;
    const auto algorithm = digest::algorithm(file_name.substr(dot + 1));
    if (!algorithm) return std::nullopt;
    return CompanionName{file_name.substr(0, dot), *algorithm};
}

CompanionParser::CompanionParser(std::string file, digest::Algorithm algorithm,
                                 const Encoding& encoding, Report report)
    : file_(std::move(file)),
      algorithm_(algorithm),
      report_(std::move(report)),
      lines_(encoding, 4096, [this](const Line& l) { line(l); }) {}

void CompanionParser::line(const Line& line) {
    torn_ |= line.torn;
    if (line.number > 1) {
        further_lines_ += !text::trim(line.text).empty();
        return;
    }
    const std::string_view text = text::trim(line.text);
    const std::size_t end = std::min(text.find_first_of(" \t"), text.size());
    const auto value = digest::Value::from_hex(text.substr(0, end));
    if (value && value->bytes().size() == digest::size(algorithm_)) value_ = value;
}

std::optional<digest::Value> CompanionParser::finish() {
    lines_.finish();
    if (torn_) return std::nullopt;
    if (!value_)
        report_(found(FindingKind::tag_malformed, Severity::damage, file_,
                      fmt::format("it holds no {} checksum", digest::name(algorithm_))));
    if (further_lines_ > 0)
        report_(found(FindingKind::tag_malformed, Severity::warning, file_,
                      "it has more than one line"));
    return value_;
}

}  // namespace glassine::bagit
