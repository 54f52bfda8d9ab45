#include "glassine/bagit/bag_info.h"
#include "glassine/bagit/layout.h"
#include "glassine/base/text.h"
#include "glassine/base/time.h"
#include "mark.h"
#include "words.h"

#include <algorithm>
#include <array>
#include <vector>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

constexpr std::size_t longest_info_line = 1u << 20;  ///< bytes kept of a line

using enum FindingKind;

std::size_t count_of(const BagInfo& info, std::string_view label) {
    return static_cast<std::size_t>(std::ranges::count_if(info.elements(), [&](const Element& e) {
        return text::equal_ignoring_ascii_case(e.label, label);
    }));
}

bool is_wide(std::string_view utf8) {
    constexpr std::size_t widest = 79;  // §2.2.2-5
    return utf8.size() > widest && static_cast<std::size_t>(std::ranges::count_if(utf8, [](char c) {
                                       return (static_cast<unsigned char>(c) & 0xC0) != 0x80;
                                   })) > widest;
}

bool is_number(std::string_view text) {
    return !text.empty() && std::ranges::all_of(text, [](char c) { return c >= '0' && c <= '9'; });
}

/// "3 of 15", "3 of ?".
bool is_bag_count(std::string_view value) {
    const std::size_t of = value.find(" of ");
    if (of == std::string_view::npos) return false;
    const std::string_view total = value.substr(of + 4);
    return is_number(value.substr(0, of)) && (total == "?" || is_number(total));
}

}  // namespace

BagInfoParser::BagInfoParser(BagInfo& into, std::string file, const Encoding& encoding,
                             const Rules& rules, Report report, std::size_t most)
    : into_(into),
      file_(std::move(file)),
      encoding_(encoding),
      rules_(rules),
      report_(std::move(report)),
      room_(most),
      lines_(encoding, longest_info_line, [this](const Line& l) { line(l); }) {}

void BagInfoParser::problem(FindingKind kind, Weight weight, const Line& line,
                            std::string_view detail) {
    if (!weight) return;
    Finding finding = found(kind, *weight, file_, fmt::format("line {} {}", line.number, detail));
    finding.offset = line.offset;
    if (line.offset) finding.length = line.text.size();
    report_(std::move(finding));
}

void BagInfoParser::problem(FindingKind kind, Weight weight, std::string detail) {
    if (weight) report_(found(kind, *weight, file_, std::move(detail)));
}

/// Keeps the memory within bounds, whatever the file holds.
bool BagInfoParser::fits(const Line& line) {
    const std::size_t cost = line.text.size() + sizeof(Element);
    if (cost > room_) {
        ++left_out_;
        return false;
    }
    room_ -= cost;
    return true;
}

void BagInfoParser::line(const Line& line) {
    last_ended_ = line.ended;
    if (line.torn) {
        open_ = false;
        return;
    }
    if (line.ill_formed)
        problem(tag_malformed, Severity::damage, line, fmt::format("is not {}", encoding_.name));
    if (line.too_long)
        problem(tag_malformed, Severity::warning, line,
                "is longer than 1 MiB; the rest was left out");
    if (is_wide(line.text)) ++wide_;
    if (line.text.empty()) {
        problem(tag_malformed, Severity::warning, line, "is empty");
        return;
    }
    if (line.text[0] == ' ' || line.text[0] == '\t') return continuation(line);
    const std::size_t colon = line.text.find(':');
    if (colon != std::string_view::npos) return element(line, colon);
    open_ = false;
    problem(tag_malformed, Severity::damage, line,
            fmt::format("has no colon: “{}”", excerpt(line.text)));
}

void BagInfoParser::element(const Line& line, std::size_t colon) {
    std::string_view label = line.text.substr(0, colon);
    std::string_view value = line.text.substr(colon + 1);
    if (rules_.loose_colon) {
        label = text::trim(label);
        value = text::trim(value);
    } else if (value.empty() || (value[0] != ' ' && value[0] != '\t')) {
        problem(tag_malformed, Severity::damage, line, "has no blank after the colon");
    } else {
        value.remove_prefix(1);
        if (!value.empty() && (value[0] == ' ' || value[0] == '\t'))
            problem(standard_discouraged, Severity::warning, line,
                    "has more than one blank after the colon; they count as part of the value");
    }
    if (label.empty())
        problem(tag_malformed, Severity::damage, line, "has no label");
    else if (label.back() == ' ' || label.back() == '\t')
        problem(tag_malformed, Severity::damage, line, "has a blank before the colon");
    open_ = fits(line);
    if (open_) into_.add(std::string(text::trim(label)), std::string(value));
}

void BagInfoParser::continuation(const Line& line) {
    if (!open_) {
        if (left_out_ == 0 || into_.empty())
            problem(tag_malformed, Severity::damage, line, "is indented but continues nothing");
        return;
    }
    const std::size_t text = std::min(line.text.find_first_not_of(" \t"), line.text.size());
    if (!fits(line)) return;
    std::string_view more = line.text.substr(text);
    if (rules_.loose_colon) more = text::trim(more);
    into_.elements_.back().value.append("\n").append(more);
}

void BagInfoParser::check_oxum() {
    const auto values = into_.values("Payload-Oxum");
    if (values.size() > 1)
        problem(tag_malformed, Severity::damage,
                fmt::format("Payload-Oxum stands in it {} times", values.size()));
    for (const std::string& value : values)
        if (!parse_oxum(value))
            problem(tag_malformed, Severity::damage,
                    fmt::format("Payload-Oxum “{}” is not two numbers with a dot between them",
                                excerpt(value)));
}

void BagInfoParser::check_repeats() {
    constexpr std::array once{"Bagging-Date", "Bag-Size", "Bag-Group-Identifier", "Bag-Count"};
    for (const char* label : once)
        if (count_of(into_, label) > 1)
            problem(standard_discouraged, rules_.repeated_single_element,
                    fmt::format("{} stands in it more than once", label));
    if (!rules_.repeated_element) return;
    std::vector<std::string> labels;
    for (const Element& e : into_.elements())
        labels.push_back(text::ascii_lower(e.label));
    std::ranges::sort(labels);
    const auto twice = std::ranges::adjacent_find(labels);
    if (twice != labels.end())
        problem(standard_discouraged, rules_.repeated_element,
                fmt::format("{} stands in it more than once, which only 0.97 allows", *twice));
}

void BagInfoParser::check_elements() {
    if (rules_.has_oxum) check_oxum();
    check_repeats();
    if (rules_.metadata_file != bag_info_file) return;
    for (const std::string& date : into_.values("Bagging-Date"))
        if (!parse_date(date))
            problem(tag_malformed, Severity::warning,
                    fmt::format("Bagging-Date “{}” is not a day as YYYY-MM-DD", excerpt(date)));
    for (const std::string& count : into_.values("Bag-Count"))
        if (!is_bag_count(count))
            problem(tag_malformed, Severity::warning,
                    fmt::format("Bag-Count “{}” is not of the form “1 of 2”", excerpt(count)));
    if (into_.value("Bag-Count") && !into_.value("Bag-Group-Identifier"))
        problem(standard_discouraged, Severity::warning,
                "it has a Bag-Count but no Bag-Group-Identifier");
}

void BagInfoParser::finish() {
    lines_.finish();
    const auto [weight, why] = judge_mark(lines_.marked(), encoding_, rules_);
    problem(tag_malformed, weight, why);
    if (!last_ended_)
        problem(standard_discouraged, Severity::warning, "its last line has no line end");
    if (wide_ > 0)
        problem(standard_discouraged, Severity::note,
                fmt::format("{} of it {} longer than 79 characters", text::counted(wide_, "line"),
                            wide_ == 1 ? "is" : "are"));
    if (left_out_ > 0)
        problem(tag_malformed, Severity::warning,
                fmt::format("it is too large to be kept whole: {} left out",
                            text::counted(left_out_, "line")));
    check_elements();
}

}  // namespace glassine::bagit
