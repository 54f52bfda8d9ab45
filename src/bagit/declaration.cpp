#include "glassine/bagit/declaration.h"

#include "glassine/bagit/layout.h"
#include "glassine/bagit/text_lines.h"
#include "glassine/base/text.h"
#include "words.h"

#include <array>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

constexpr std::string_view version_label = "BagIt-Version";
constexpr std::string_view encoding_label = "Tag-File-Character-Encoding";
/// bytes: far more than a declaration needs, and all that is looked at.
constexpr std::size_t longest_declaration_line = 1024;
constexpr std::size_t most_lines = 100;

/// A line taken apart as far as it goes.
struct Field {
    std::string label;
    std::string value;
    bool strict = false;  ///< label, colon, one blank, value, and no further blanks
    bool exact = false;   ///< the label is spelled as the rule spells it
};

struct Text {
    std::vector<Field> fields;
    bool marked = false;
    bool ill_formed = false;
    bool too_long = false;
    bool ended = true;
};

Field field(std::string_view line) {
    const std::size_t colon = line.find(':');
    if (colon == std::string_view::npos) return {std::string(text::trim(line)), "", false, false};
    const std::string_view label = line.substr(0, colon);
    const std::string_view rest = line.substr(colon + 1);
    Field out{std::string(text::trim(label)), std::string(text::trim(rest)), false, false};
    out.strict = label == out.label && rest.size() == out.value.size() + 1 && rest[0] == ' ';
    out.exact = label == version_label || label == encoding_label;
    return out;
}

Text read(std::string_view content) {
    Text out;
    LineReader reader(encoding_named("UTF-8"), longest_declaration_line, [&](const Line& line) {
        if (out.fields.size() < most_lines) out.fields.push_back(field(line.text));
        out.ill_formed |= line.ill_formed;
        out.too_long |= line.too_long;
        out.ended = line.ended;
    });
    reader.feed(content);
    reader.finish();
    out.marked = reader.marked();
    return out;
}

const Field* find(const Text& text, std::string_view label) {
    for (const Field& f : text.fields)
        if (text::equal_ignoring_ascii_case(f.label, label)) return &f;
    return nullptr;
}

class Judge {
  public:
    Judge(const Rules& rules, std::vector<Finding>& findings)
        : rules_(rules), findings_(findings) {}

    void form(std::string detail) { add(rules_.declaration_form, std::move(detail)); }
    void add(Weight weight, std::string detail) {
        if (weight) add(FindingKind::declaration_malformed, *weight, std::move(detail));
    }
    void add(FindingKind kind, Severity severity, std::string detail) {
        findings_.push_back(
            found(kind, severity, std::string(declaration_file), std::move(detail)));
    }

  private:
    const Rules& rules_;
    std::vector<Finding>& findings_;
};

void judge_version(const Field* version, const Rules& rules, Judge& judge) {
    if (!version || version->value.empty()) {
        judge.add(Severity::damage,
                  "it does not say its BagIt-Version; judged by the rules of 1.0");
        return;
    }
    if (!is_version(version->value))
        judge.add(Severity::damage,
                  fmt::format("its BagIt-Version “{}” is not two numbers with a dot between them; "
                              "judged by the rules of 1.0",
                              excerpt(version->value)));
    else if (!known_version(version->value))
        judge.add(FindingKind::version_unknown, Severity::warning,
                  fmt::format("BagIt version {} is not known here; judged by the rules of {}",
                              excerpt(version->value), rules.version));
}

void judge_encoding(const Field* field, const Encoding& encoding, Judge& judge) {
    if (!field || field->value.empty()) {
        judge.add(Severity::damage,
                  "it does not say its Tag-File-Character-Encoding; read as UTF-8");
        return;
    }
    if (!encoding.known)
        judge.add(
            FindingKind::encoding_unknown, Severity::damage,
            fmt::format("the character encoding “{}” is not known here; tag files are read as "
                        "UTF-8",
                        excerpt(encoding.name)));
    else if (!encoding.registered)
        judge.add(FindingKind::standard_discouraged, Severity::warning,
                  fmt::format("“{}” is not a name of IANA's character set registry",
                              excerpt(encoding.name)));
    else if (!encoding.utf8)
        judge.add(
            FindingKind::standard_discouraged, Severity::warning,
            fmt::format("tag files are in {}; UTF-8 is what the standard advises", encoding.name));
}

void judge_form(const Text& text, Judge& judge) {
    const auto is = [&](std::size_t i, std::string_view label) {
        return i < text.fields.size() &&
               text::equal_ignoring_ascii_case(text.fields[i].label, label);
    };
    if (text.fields.size() != 2)
        judge.form(fmt::format("it has {}, not two", text::counted(text.fields.size(), "line")));
    else if (is(0, encoding_label) && is(1, version_label))
        judge.form("its two lines stand in the wrong order");
    for (std::size_t i = 0; i < 2 && i < text.fields.size(); ++i) {
        const Field& field = text.fields[i];
        if (!is(i, version_label) && !is(i, encoding_label)) {
            judge.form(fmt::format("line {} has the label “{}”", i + 1, excerpt(field.label)));
        } else if (!field.strict) {
            judge.form(
                fmt::format("line {} is not a label, a colon, one blank and a value", i + 1));
        } else if (!field.exact) {
            judge.add(Severity::note,
                      fmt::format("line {} spells its label “{}”", i + 1, field.label));
        }
    }
    if (!text.ended) judge.add(Severity::warning, "its last line has no line end");
}

}  // namespace

Declaration parse_declaration(std::string_view content, std::vector<Finding>& findings) {
    const Text text = read(content);
    const Field* version = find(text, version_label);
    const Field* encoding = find(text, encoding_label);
    Declaration out;
    if (version) out.version = version->value;
    out.encoding = encoding_named(encoding && !encoding->value.empty() ? encoding->value : "UTF-8");
    const Rules& rules = rules_for(out.version);
    Judge judge(rules, findings);
    judge_version(version, rules, judge);
    judge_encoding(encoding, out.encoding, judge);
    judge_form(text, judge);
    if (text.marked) judge.add(rules.declaration_mark, "it begins with a byte order mark");
    if (text.ill_formed) judge.add(Severity::damage, "it is not UTF-8");
    if (text.too_long) judge.add(Severity::damage, "it has a line of more than 1,024 bytes");
    return out;
}

std::string declaration_text() {
    return "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
}

}  // namespace glassine::bagit
