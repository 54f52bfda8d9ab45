#include "glassine/recovery/layout.h"

#include "glassine/base/error.h"
#include "recovery/packet.h"

#include <algorithm>
#include <cassert>

#include <fmt/format.h>

namespace glassine::recovery {

namespace {

constexpr std::uint64_t exact_from =
    1'000'000'000;  ///< payload bytes from which the size is promised
constexpr std::uint64_t fewest_repair_blocks = 4;
constexpr unsigned most_repair_symbols =
    32;  ///< more would cost time in proportion and heal hardly better
constexpr unsigned most_symbols = 255;
constexpr std::uint64_t tag_share =
    2000;  ///< tag files may take one 2000th of the payload to be doubled

std::uint64_t divided_up(std::uint64_t a, std::uint64_t b) {
    return (a + b - 1) / b;
}

void check_options(const Options& options) {
    if (options.percent < 100 || options.percent > 10000) {
        throw Error(Cause::malformed, "lay out recovery data", "",
                    fmt::format("{}.{:02} percent is not between 1 and 100", options.percent / 100,
                                options.percent % 100));
    }
    if (!is_block_size(options.block_size)) {
        throw Error(Cause::malformed, "lay out recovery data", "",
                    fmt::format("{} is not a block size", options.block_size));
    }
}

void sort_names(std::vector<FileSize>& files) {
    for (const auto& file : files) {
        if (is_safe_name(file.name) && file.name.size() <= longest_name) continue;
        throw Error(Cause::malformed, "lay out recovery data", file.name,
                    "the name cannot be used inside a bag");
    }
    std::sort(files.begin(), files.end(),
              [](const auto& a, const auto& b) { return a.name < b.name; });
    const auto twice = std::adjacent_find(
        files.begin(), files.end(), [](const auto& a, const auto& b) { return a.name == b.name; });
    if (twice != files.end()) {
        throw Error(Cause::malformed, "lay out recovery data", twice->name,
                    "the name was given twice");
    }
}

std::uint64_t repair_blocks(Group group, std::uint64_t blocks, std::uint64_t bytes,
                            const Options& options, std::uint64_t payload_bytes) {
    const bool exact = group == Group::payload && payload_bytes >= exact_from;
    std::uint64_t wanted = exact ? bytes / options.block_size * options.percent / 10000
                                 : divided_up(blocks * options.percent, 10000);
    if (group == Group::tags) {
        wanted = std::max(wanted, std::min(blocks, payload_bytes / tag_share / options.block_size));
    }
    return std::max({wanted, fewest_repair_blocks, divided_up(blocks, most_symbols - 1)});
}

/// As many symbols a code word as fit: the longer the words, the better they even out scattered
/// damage.
Geometry shape(std::uint32_t block_size, std::uint32_t blocks, std::uint32_t repair) {
    Geometry shape{.block_size = block_size, .blocks = blocks};
    if (blocks == 0) return shape;
    for (std::uint32_t m = std::min(most_repair_symbols, repair); m >= 1; --m) {
        const std::uint32_t words = std::min(repair / m, blocks);
        const auto k = static_cast<std::uint32_t>(divided_up(blocks, words));
        if (k + m > most_symbols) continue;
        shape.words = words;
        shape.k = static_cast<std::uint16_t>(k);
        shape.m = static_cast<std::uint16_t>(m);
        return shape;
    }
    shape.words = static_cast<std::uint32_t>(divided_up(blocks, most_symbols - 1));
    shape.k = static_cast<std::uint16_t>(divided_up(blocks, shape.words));
    shape.m = 1;
    return shape;
}

/// Deals files out to windows whose ends, counted in blocks over all files, are given.
class Dealer {
  public:
    Dealer(std::vector<Window>& windows, std::vector<std::uint64_t> ends, std::uint64_t block_size)
        : windows_(windows), ends_(std::move(ends)), block_size_(block_size) {}

    void deal(const FileSize& file) {
        skip_full_window();
        std::uint64_t left = divided_up(file.size, block_size_);
        std::uint64_t offset = 0;
        if (left == 0) add(file.name, file.size, 0, 0);
        while (left > 0) {
            skip_full_window();
            const std::uint64_t part = std::min(left, ends_[window_] - next_);
            add(file.name, file.size, offset, part);
            next_ += part;
            left -= part;
            offset += part * block_size_;
        }
    }

  private:
    void skip_full_window() {
        while (next_ == ends_[window_] && window_ + 1 < ends_.size()) {
            ++window_;
        }
    }

    void add(const std::string& name, std::uint64_t size, std::uint64_t offset,
             std::uint64_t blocks) {
        const std::uint64_t begin = window_ == 0 ? 0 : ends_[window_ - 1];
        windows_[window_].extents.push_back({name, size, offset,
                                             static_cast<std::uint32_t>(next_ - begin),
                                             static_cast<std::uint32_t>(blocks)});
    }

    std::vector<Window>& windows_;
    std::vector<std::uint64_t> ends_;
    std::uint64_t block_size_;
    std::uint64_t next_ = 0;
    std::size_t window_ = 0;
};

}  // namespace

const Extent& Window::extent_of(std::uint32_t block) const {
    assert(block < geometry.blocks);
    const auto after =
        std::upper_bound(extents.begin(), extents.end(), block,
                         [](std::uint32_t b, const Extent& extent) { return b < extent.first; });
    return *std::prev(after);
}

std::uint64_t Window::offset_of(std::uint32_t block) const {
    const Extent& extent = extent_of(block);
    return extent.offset + std::uint64_t{block - extent.first} * geometry.block_size;
}

std::uint32_t Window::bytes_of(std::uint32_t block) const {
    const std::uint64_t left = extent_of(block).file_size - offset_of(block);
    return static_cast<std::uint32_t>(std::min<std::uint64_t>(left, geometry.block_size));
}

std::vector<Window> plan(Group group, std::vector<FileSize> files, const Options& options,
                         std::uint64_t payload_bytes) {
    check_options(options);
    if (files.empty()) return {};
    sort_names(files);
    std::uint64_t blocks = 0;
    std::uint64_t bytes = 0;
    for (const auto& file : files) {
        blocks += divided_up(file.size, options.block_size);
        bytes += file.size;
    }
    const std::uint64_t repair = repair_blocks(group, blocks, bytes, options, payload_bytes);
    const std::uint64_t in_window =
        std::max<std::uint64_t>(options.window_memory / options.block_size, 1);
    const std::uint64_t count = blocks == 0 ? 1 : std::min(divided_up(repair, in_window), blocks);

    std::vector<Window> windows(count);
    std::vector<std::uint64_t> ends(count);
    for (std::uint64_t i = 0; i < count; ++i) {
        ends[i] = blocks * (i + 1) / count;
        const auto own = static_cast<std::uint32_t>(ends[i] - blocks * i / count);
        const auto own_repair = blocks == 0 ? 0 : std::max<std::uint64_t>(repair * own / blocks, 1);
        windows[i] = {
            .group = group,
            .number = static_cast<std::uint32_t>(i),
            .windows = static_cast<std::uint32_t>(count),
            .percent = options.percent,
            .geometry = shape(options.block_size, own, static_cast<std::uint32_t>(own_repair)),
            .extents = {}};
    }
    Dealer dealer(windows, std::move(ends), options.block_size);
    for (auto& file : files)
        dealer.deal(file);
    return windows;
}

std::string file_name(Group group, std::uint32_t number) {
    return fmt::format("recovery/{}-{:04}.recovery", group == Group::payload ? "payload" : "tags",
                       number + 1);
}

bool is_file_name(std::string_view name) {
    constexpr std::string_view suffix = ".recovery";
    for (const std::string_view prefix : {"recovery/payload-", "recovery/tags-"}) {
        if (!name.starts_with(prefix) || !name.ends_with(suffix)) continue;
        if (name.size() < prefix.size() + 4 + suffix.size()) return false;
        const auto digits = name.substr(prefix.size(), name.size() - prefix.size() - suffix.size());
        return digits.find_first_not_of("0123456789") == std::string_view::npos;
    }
    return false;
}

std::uint64_t file_size(const Window& window) {
    const Geometry& shape = window.geometry;
    const std::uint64_t table = table_size(window.extents);
    const std::uint64_t checks = std::uint64_t{8} * shape.blocks;
    const std::uint64_t index_packets =
        divided_up(table, shape.block_size) + divided_up(checks, shape.block_size);
    const std::uint64_t index = index_packets * header_size + table + checks;
    return 2 * index + std::uint64_t{shape.repair_blocks()} * (header_size + shape.block_size);
}

std::vector<std::vector<std::string_view>> reading_sets(const std::vector<Window>& windows) {
    std::vector<std::vector<std::string_view>> sets;
    for (const auto& window : windows) {
        std::vector<std::string_view> whole;
        const Extent* into_next = nullptr;
        for (const auto& extent : window.extents) {
            const std::uint64_t end =
                extent.offset + std::uint64_t{extent.blocks} * window.geometry.block_size;
            if (extent.offset > 0) continue;  // read with the window in which it begins
            if (end < extent.file_size) {
                into_next = &extent;
            } else {
                whole.push_back(extent.name);
            }
        }
        if (!whole.empty()) sets.push_back(std::move(whole));
        if (into_next != nullptr) sets.push_back({into_next->name});
    }
    return sets;
}

}  // namespace glassine::recovery
