#include "toml_table.h"

#include "glassine/base/error.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <utility>

namespace glassine::job {
namespace {

std::string as_text(const toml::node& node) {
    if (const auto text = node.value<std::string>()) return *text;
    if (const auto truth = node.value_exact<bool>()) return *truth ? "true" : "false";
    if (const auto number = node.value_exact<std::int64_t>()) return std::to_string(*number);
    return {};
}

}  // namespace

std::string place(const toml::source_region& region) {
    return "line " + std::to_string(region.begin.line) + ", column " +
           std::to_string(region.begin.column);
}

TomlTable::TomlTable(const toml::table* table, std::string name, std::string path)
    : table_(table), name_(std::move(name)), path_(std::move(path)) {}

std::string TomlTable::full_name(std::string_view key) const {
    return name_.empty() ? std::string(key) : name_ + '.' + std::string(key);
}

void TomlTable::refuse(const toml::node& at, std::string_view key, std::string why,
                       std::string next) const {
    throw Error(Cause::malformed, "read the studio file", path_,
                place(at.source()) + ": " + full_name(key) + ' ' + std::move(why), std::move(next));
}

const toml::node* TomlTable::node(std::string_view key) {
    known_.emplace_back(key);
    return table_ ? table_->get(key) : nullptr;
}

const std::string* TomlTable::text(std::string_view key) {
    const toml::node* at = node(key);
    if (!at) return nullptr;
    if (!at->is_string()) refuse(*at, key, "must be text", "put it in double quotes");
    return &at->as_string()->get();
}

void TomlTable::read(std::string_view key, std::string& into) {
    if (const std::string* value = text(key)) into = *value;
}

void TomlTable::read(std::string_view key, std::vector<std::string>& into) {
    const toml::node* at = node(key);
    if (!at) return;
    const char* const next = "write it as [\"…\", \"…\"]";
    if (!at->is_array()) refuse(*at, key, "must be a list of texts", next);
    std::vector<std::string> all;
    for (const toml::node& each : *at->as_array()) {
        if (!each.is_string()) refuse(each, key, "must be a list of texts", next);
        all.push_back(each.as_string()->get());
    }
    into = std::move(all);
}

void TomlTable::read(std::string_view key, unsigned& into, unsigned lowest, unsigned highest) {
    const toml::node* at = node(key);
    if (!at) return;
    const auto number = at->value_exact<std::int64_t>();
    if (!number || *number < lowest || *number > highest) {
        refuse(*at, key,
               "must be a whole number from " + std::to_string(lowest) + " to " +
                   std::to_string(highest),
               "change the number (without quotes)");
    }
    into = static_cast<unsigned>(*number);
}

void TomlTable::read_all(std::map<std::string, std::string>& into) {
    if (!table_) return;
    for (const auto& [key, value] : *table_) {
        if (!value.is_string() && !value.is_boolean() && !value.is_integer()) {
            refuse(value, key.str(), "must be text, a whole number, or true or false",
                   "write it in one of these forms");
        }
        into.emplace(key.str(), as_text(value));
        known_.emplace_back(key.str());
    }
}

TomlTable TomlTable::table(std::string_view key) {
    const toml::node* at = node(key);
    if (at && !at->is_table()) {
        refuse(*at, key, "must be a table", "begin it with [" + full_name(key) + "]");
    }
    return {at ? at->as_table() : nullptr, full_name(key), path_};
}

void TomlTable::done() const {
    if (!table_) return;
    for (const auto& [key, value] : *table_) {
        if (std::ranges::find(known_, key.str()) != known_.end()) continue;
        const std::string nearest = text::nearest(key.str(), known_);
        throw Error(
            Cause::malformed, "read the studio file", path_,
            place(key.source()) + ": " + full_name(key.str()) + " is not a known key",
            "the nearest known key is " + full_name(nearest) + "; correct it or take the line out");
    }
}

}  // namespace glassine::job
