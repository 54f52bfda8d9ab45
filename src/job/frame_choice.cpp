#include "glassine/job/frame_choice.h"

#include "glassine/base/error.h"
#include "glassine/base/text.h"
#include "glassine/job/layout.h"
#include "glassine/photo/dcf.h"

#include <algorithm>
#include <charconv>
#include <map>
#include <optional>

namespace glassine::job {
namespace {

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

std::optional<std::uint64_t> whole_number(std::string_view text) {
    std::uint64_t number = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    if (text.empty() || error != std::errc() || end != text.data() + text.size())
        return std::nullopt;
    return number;
}

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && (text.back() == '\r' || text.back() == ' ' || text.back() == '\t'))
        text.remove_suffix(1);
    return text::trim(text);
}

/// Three to five digits are what cameras and exports count with; dates have more.
std::string_view longest_group(std::string_view stem, std::size_t least, std::size_t most) {
    std::string_view best;
    for (std::size_t at = 0; at < stem.size();) {
        std::size_t end = at;
        while (end < stem.size() && is_digit(stem[end]))
            ++end;
        const std::size_t length = end - at;
        if (length >= least && length <= most && length >= best.size())
            best = stem.substr(at, length);
        at = end + 1;
    }
    return best;
}

}  // namespace

std::uint64_t frame_number(std::string_view stem) {
    if (const auto camera = photo::dcf::parse_file_name(std::string(stem) + ".JPG"))
        return static_cast<std::uint64_t>(camera->number);
    constexpr std::size_t counting = 5;
    constexpr std::size_t longest = 9;
    std::string_view digits = longest_group(stem, 3, counting);
    if (digits.empty()) digits = longest_group(stem, 1, longest);
    return whole_number(digits).value_or(0);
}

/// All by which one file can be meant.
struct FrameChoice::Handle {
    std::vector<std::string> names;  ///< folded
    std::vector<std::uint64_t> numbers;

    void add_name(std::string_view name) { names.push_back(text::fold_case(name)); }
    void add_number(std::uint64_t number) {
        if (number > 0) numbers.push_back(number);
    }
};

FrameChoice::Item FrameChoice::item(std::string_view text) {
    Item item;
    item.text = text;
    item.name = text::fold_case(text);
    if (const auto number = whole_number(text)) {
        item.first = item.last = *number;
        return item;
    }
    const std::size_t dash = text.find('-');
    if (dash == std::string_view::npos) return item;
    const auto first = whole_number(text::trim(text.substr(0, dash)));
    const auto last = whole_number(text::trim(text.substr(dash + 1)));
    if (!first || !last) return item;
    if (*last < *first)
        throw Error(Cause::usage, "read the list of frames", "",
                    "the range \"" + text::for_terminal(text) + "\" runs backwards",
                    "write the smaller number first");
    item.first = *first;
    item.last = *last;
    return item;
}

FrameChoice FrameChoice::parse(std::string_view list) {
    FrameChoice choice;
    for (std::size_t at = 0; at <= list.size();) {
        const std::size_t end = std::min(list.find_first_of(",\n", at), list.size());
        const std::string_view text = trimmed(list.substr(at, end - at));
        if (!text.empty()) choice.items_.push_back(item(text));
        at = end + 1;
    }
    if (choice.items_.empty())
        throw Error(Cause::usage, "read the list of frames", "", "there is no frame in it",
                    "write it like 12,40-52,KRB_0448");
    return choice;
}

bool FrameChoice::means(const Item& item, const Handle& handle) {
    return std::ranges::any_of(
               handle.numbers,
               [&](std::uint64_t n) { return item.first <= n && n <= item.last; }) ||
           std::ranges::find(handle.names, item.name) != handle.names.end();
}

FrameChoice::Chosen FrameChoice::choose(std::span<const std::string> files,
                                        std::span<const FrameRow> rows) const {
    std::map<std::string_view, const FrameRow*> row_of;
    for (const FrameRow& row : rows)
        for (const auto* some : {&row.originals, &row.sidecars, &row.print, &row.web, &row.proxies})
            for (const std::string& path : *some)
                row_of[path] = &row;
    std::vector<bool> met(items_.size());
    Chosen chosen;
    for (const std::string& path : files) {
        Handle handle;
        const std::string_view file = file_name_of(path);
        for (const std::string_view name : {std::string_view(path), file, stem_of(file)})
            handle.add_name(name);
        const auto row = row_of.find(path);
        if (row != row_of.end()) handle.add_name(row->second->frame);
        handle.add_number(frame_number(row != row_of.end() ? std::string_view(row->second->frame)
                                                           : stem_of(file)));
        bool wanted = false;
        for (std::size_t i = 0; i < items_.size(); ++i) {
            if (!means(items_[i], handle)) continue;
            wanted = true;
            met[i] = true;
        }
        chosen.files.push_back(wanted);
    }
    for (std::size_t i = 0; i < items_.size(); ++i)
        if (!met[i]) chosen.unknown.push_back(items_[i].text);
    return chosen;
}

}  // namespace glassine::job
