#include "recovery/window_rebuild.h"

#include "glassine/base/error.h"

#include <algorithm>
#include <cassert>
#include <cstring>

namespace glassine::recovery {

namespace {

constexpr std::size_t longest_read = std::size_t{1} << 20;

}  // namespace

/// A code word that is being solved.
struct WindowRebuild::Word {
    std::uint32_t number = 0;
    std::vector<unsigned> lost;  ///< source symbols to find
    std::vector<unsigned> rows;  ///< repair symbols to find them with, as many
    std::vector<Symbol> sums;
};

WindowRebuild::WindowRebuild(RecoverySet& set, std::size_t window, std::set<std::uint32_t> lost,
                             Copies& copies, const RebuildOptions& options)
    : set_(set),
      number_(window),
      window_(set.windows()[window].window),
      lost_(std::move(lost)),
      copies_(copies),
      options_(options),
      checks_(set.checks(window)) {}

void WindowRebuild::plan() {
    in_other_copy_.clear();
    hopeless_.clear();
    usable_repair_ = static_cast<std::uint32_t>(set_.repair(number_).size());
    std::map<std::uint32_t, std::vector<std::uint32_t>> by_word;
    for (const auto block : lost_)
        by_word[block % window_.geometry.words].push_back(block);

    std::int64_t least_to_spare = window_.geometry.m + 1;
    for (const auto& [word, blocks] : by_word) {
        const std::size_t usable = usable_rows(word).size();
        const auto spare =
            static_cast<std::int64_t>(usable) - static_cast<std::int64_t>(blocks.size());
        if (spare < least_to_spare) {
            least_to_spare = spare;
            fullest_ = {static_cast<std::uint32_t>(blocks.size()),
                        static_cast<std::uint32_t>(usable)};
        }
        if (spare >= 0) continue;
        std::vector<std::uint32_t> left;
        for (const auto block : blocks) {
            if (blocks.size() - in_others(blocks) <= usable) break;
            if (const auto copy = find_in_others(block)) in_other_copy_[block] = *copy;
        }
        std::copy_if(blocks.begin(), blocks.end(), std::back_inserter(left),
                     [this](auto block) { return !in_other_copy_.contains(block); });
        if (left.size() > usable) hopeless_.insert(left.begin(), left.end());
    }
}

WindowRebuild::Way WindowRebuild::way(std::uint32_t block) const {
    if (hopeless_.contains(block)) return Way::none;
    return in_other_copy_.contains(block) ? Way::other_copy : Way::recovery;
}

std::size_t WindowRebuild::in_others(const std::vector<std::uint32_t>& blocks) const {
    return static_cast<std::size_t>(std::count_if(blocks.begin(), blocks.end(), [this](auto block) {
        return in_other_copy_.contains(block);
    }));
}

std::vector<std::uint32_t> WindowRebuild::usable_rows(std::uint32_t word) const {
    const auto& repair = set_.repair(number_);
    std::vector<std::uint32_t> rows;
    for (std::uint32_t row = 0; row < window_.geometry.m; ++row) {
        if (repair.contains(row * window_.geometry.words + word)) rows.push_back(row);
    }
    return rows;
}

std::optional<std::uint8_t> WindowRebuild::find_in_others(std::uint32_t block) {
    if (!checks_->known[block])
        return std::nullopt;  // a block that cannot be told right is worth nothing
    std::vector<std::byte> bytes(window_.geometry.block_size);
    for (std::size_t copy = 0; copy < copies_.others.size(); ++copy) {
        if (read_from(copies_.others[copy], block, bytes)) return static_cast<std::uint8_t>(copy);
    }
    return std::nullopt;
}

bool WindowRebuild::read_from(BagReader& reader, std::uint32_t block, std::span<std::byte> into) {
    const auto bytes = into.first(window_.bytes_of(block));
    return reader.read_all(window_.extent_of(block).name, window_.offset_of(block), bytes) &&
           is_right(block, bytes);
}

bool WindowRebuild::is_right(std::uint32_t block, std::span<const std::byte> bytes) const {
    return !checks_->known[block] || check_of(bytes) == checks_->values[block];
}

void WindowRebuild::rebuild(std::function<bool(std::uint32_t)> wanted) {
    wanted_ = std::move(wanted);
    rebuild_wanted();
}

void WindowRebuild::rebuild_wanted() {
    while (true) {
        rebuilt_.clear();
        auto words = words_to_solve();
        if (words.empty()) return;
        const auto newly_lost = take_in_blocks(words);
        if (newly_lost.empty()) {
            for (auto& word : words)
                take_in_repair(word);
            for (auto& word : words)
                solve(word);
            return;
        }
        lost_.insert(newly_lost.begin(), newly_lost.end());
        plan();
    }
}

/// Only the lost blocks of these words are held in memory, never more than the words have repair
/// blocks.
std::vector<WindowRebuild::Word> WindowRebuild::words_to_solve() {
    std::map<std::uint32_t, Word> by_number;
    std::set<std::uint32_t> needed;
    for (const auto block : lost_) {
        if (way(block) != Way::recovery) continue;
        const std::uint32_t number = block % window_.geometry.words;
        by_number[number].lost.push_back(block / window_.geometry.words);
        if (wanted_(block)) needed.insert(number);
    }
    std::vector<Word> words;
    for (auto& [number, word] : by_number) {
        if (!needed.contains(number)) continue;
        word.number = number;
        for (const auto row : usable_rows(number)) {
            if (word.rows.size() < word.lost.size()) word.rows.push_back(row);
        }
        for (const auto symbol : word.lost) {
            rebuilt_.emplace(symbol * window_.geometry.words + number, rebuilt_.size());
        }
        words.push_back(std::move(word));
    }
    if (words.empty()) return words;
    if (!code_) code_.emplace(window_.geometry.k, window_.geometry.m);
    memory_ = io::LargeMemory(rebuilt_.size() * window_.geometry.block_size);
    for (auto& word : words) {
        for (const auto symbol : word.lost) {
            const std::size_t at = rebuilt_.at(symbol * window_.geometry.words + word.number);
            word.sums.push_back(
                reinterpret_cast<Symbol>(memory_.at(at * window_.geometry.block_size)));
        }
    }
    return words;
}

/// Reads the whole blocks of the words to be solved, in the order of the files. Returns those that
/// are not whole.
std::set<std::uint32_t> WindowRebuild::take_in_blocks(std::vector<Word>& words) {
    std::vector<Word*> of_number(window_.geometry.words);
    for (auto& word : words)
        of_number[word.number] = &word;
    std::set<std::uint32_t> newly_lost;
    const auto take = [&](std::uint32_t block, std::span<const std::byte> bytes) {
        const Word& word = *of_number[block % window_.geometry.words];
        code_->add_to(word.rows, block / window_.geometry.words, bytes, word.sums);
    };
    std::vector<std::byte> buffer(std::max<std::size_t>(longest_read, window_.geometry.block_size));
    for (std::uint32_t block = 0; block < window_.geometry.blocks;) {
        if (of_number[block % window_.geometry.words] == nullptr || rebuilt_.contains(block)) {
            ++block;
            continue;
        }
        if (const auto other = in_other_copy_.find(block); other != in_other_copy_.end()) {
            if (read_from(copies_.others[other->second], block, buffer)) {
                take(block, std::span(buffer).first(window_.bytes_of(block)));
            } else {
                newly_lost.insert(block);
            }
            ++block;
            continue;
        }
        const std::uint32_t end = end_of_run(block, buffer.size(), [&](std::uint32_t next) {
            return of_number[next % window_.geometry.words] != nullptr && !lost_.contains(next);
        });
        read_run(block, end, buffer, take, newly_lost);
        block = end;
    }
    return newly_lost;
}

/// The end of the run of blocks, all of one file, that begins at `block` and can be read in one go.
std::uint32_t WindowRebuild::end_of_run(std::uint32_t block, std::size_t bytes,
                                        const std::function<bool(std::uint32_t)>& belongs) const {
    const Extent& extent = window_.extent_of(block);
    const auto most = static_cast<std::uint32_t>(bytes / window_.geometry.block_size);
    const std::uint32_t limit = std::min(extent.first + extent.blocks, block + most);
    std::uint32_t end = block + 1;
    while (end < limit && belongs(end))
        ++end;
    return end;
}

void WindowRebuild::read_run(
    std::uint32_t begin, std::uint32_t end, std::span<std::byte> buffer,
    const std::function<void(std::uint32_t, std::span<const std::byte>)>& take,
    std::set<std::uint32_t>& newly_lost) {
    const std::uint32_t block_size = window_.geometry.block_size;
    const std::size_t length =
        std::size_t{end - begin - 1} * block_size + window_.bytes_of(end - 1);
    interruption_point(length);
    const std::string& name = window_.extent_of(begin).name;
    const bool at_once = copies_.own.read_all(name, window_.offset_of(begin), buffer.first(length));
    for (std::uint32_t block = begin; block < end; ++block) {
        const auto bytes =
            buffer.subspan(std::size_t{block - begin} * block_size, window_.bytes_of(block));
        const bool right = at_once ? is_right(block, bytes) : read_from(copies_.own, block, bytes);
        if (right) {
            take(block, bytes);
        } else {
            newly_lost.insert(block);
        }
    }
}

void WindowRebuild::take_in_repair(Word& word) {
    std::vector<std::byte> repair(window_.geometry.block_size);
    for (std::size_t i = 0; i < word.rows.size(); ++i) {
        const std::uint32_t index = word.rows[i] * window_.geometry.words + word.number;
        if (!set_.read_repair(number_, index, repair)) {
            word.sums.clear();  // it was whole a moment ago: the medium is failing, leave this word
                                // alone
            return;
        }
        for (std::size_t b = 0; b < repair.size(); ++b) {
            word.sums[i][b] ^= std::to_integer<unsigned char>(repair[b]);
        }
    }
}

void WindowRebuild::solve(Word& word) {
    bool right = !word.sums.empty();
    if (right) code_->solve(word.lost, word.rows, word.sums, window_.geometry.block_size);
    for (std::size_t i = 0; right && i < word.lost.size(); ++i) {
        const std::uint32_t block = word.lost[i] * window_.geometry.words + word.number;
        const auto* bytes = reinterpret_cast<const std::byte*>(word.sums[i]);
        right = is_right(block, {bytes, window_.bytes_of(block)});
    }
    if (right) return;
    for (const auto symbol : word.lost) {
        const std::uint32_t block = symbol * window_.geometry.words + word.number;
        rebuilt_.erase(block);
        hopeless_.insert(block);
    }
}

bool WindowRebuild::read(std::uint32_t block, std::span<std::byte> into) {
    if (const auto found = rebuilt_.find(block); found != rebuilt_.end()) {
        std::memcpy(into.data(), memory_.at(found->second * window_.geometry.block_size),
                    into.size());
        return true;
    }
    if (const auto other = in_other_copy_.find(block); other != in_other_copy_.end()) {
        return read_from(copies_.others[other->second], block, into);
    }
    if (lost_.contains(block)) return false;
    if (read_from(copies_.own, block, into)) return true;
    // Whole a moment ago, damaged now. It is one more block to rebuild, if there is still room for
    // it.
    lost_.insert(block);
    plan();
    rebuild_wanted();
    return way(block) != Way::none && read(block, into);
}

void WindowRebuild::interruption_point(std::uint64_t bytes) {
    if (options_.stop.stop_requested()) {
        throw Error(Cause::interrupted, "rebuild", window_.extents.front().name,
                    "it was interrupted");
    }
    if (options_.progress) options_.progress(bytes);
}

}  // namespace glassine::recovery
