#include "flow/file_reader.h"

#include <algorithm>
#include <chrono>
#include <utility>

namespace glassine::flow {
namespace {

/// A dying medium can take half a minute for each failing read: past so many retries in one file a
/// sector is tried once only.
constexpr std::uint32_t retries_a_file = 512;

double seconds_since(std::chrono::steady_clock::time_point start) {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

Status status_for(const Error& error) {
    return error.cause() == Cause::not_found ? Status::vanished : Status::unreadable;
}

bool moved(const Item& item, const io::FileInfo& now) {
    return item.check_unchanged && (now.size != item.size || now.modified != item.modified);
}

void mark_changed(Outcome& outcome) {
    outcome.status = Status::changed;
    outcome.why = "its size or time changed since it was listed";
}

}  // namespace

Outcome FileReader::read(const Item& item) {
    const auto start = std::chrono::steady_clock::now();
    Outcome outcome;
    Item to_sinks = item;
    std::unique_ptr<io::InputFile> input;
    const auto guarded = [&](auto work) {
        try {
            work();
        } catch (const Error& error) {
            outcome.status = status_for(error);
            outcome.why = error.why();
        }
    };
    guarded([&] { input = opened(to_sinks); });
    const auto file = distributor_.open(to_sinks);
    if (input) guarded([&] { read_open_file(item, *input, *file, outcome); });
    outcome.seconds = seconds_since(start);
    distributor_.close(*file, outcome);
    return outcome;
}

/// Sinks get the file's own time, `read_open_file` compares the medium's with what was listed.
std::unique_ptr<io::InputFile> FileReader::opened(Item& item) {
    auto input = files_.open(item.path, options_.cache);
    bypass_ = std::max(bypass_, input->bypass());
    if (item.modified != Timestamp{}) item.modified = input->file_time().value_or(item.modified);
    return input;
}

void FileReader::read_open_file(const Item& item, io::InputFile& input, Distributor::File& file,
                                Outcome& outcome) {
    const io::FileInfo before = input.info();
    if (moved(item, before)) return mark_changed(outcome);
    for (std::uint64_t offset = 0;;) {
        if (stopped()) {
            outcome.status = Status::cancelled;
            outcome.why = "reading was stopped";
            return;
        }
        const std::size_t n = read_block(item, input, file, offset, before.size, outcome);
        if (n == 0) break;
        offset += n;
    }
    const io::FileInfo after = input.info();
    if (moved(item, after)) return mark_changed(outcome);
    if (!outcome.gaps.empty()) {
        outcome.status = outcome.bytes == 0 ? Status::unreadable : Status::gaps;
        outcome.why = "the medium would not give all of it";
    }
}

/// Reads and hands over the block at `offset`; how far that went, 0 at the end of the file.
std::size_t FileReader::read_block(const Item& item, io::InputFile& input, Distributor::File& file,
                                   std::uint64_t offset, std::uint64_t size, Outcome& outcome) {
    Distributor::Block block = distributor_.acquire();
    try {
        const std::size_t n = input.read(offset, block.bytes());
        if (n > 0) hand_over(file, std::move(block), offset, n, outcome);
        return n;
    } catch (const Error& error) {
        if (error.cause() != Cause::unreadable) throw;
        if (offset >= size) return 0;
        const std::uint64_t length =
            std::min<std::uint64_t>(options_.resources.block_size, size - offset);
        block = {};
        return read_around_damage(item, input, file, {offset, length}, error.why(), outcome);
    }
}

/// Reads a range sector by sector, so that everything around what cannot be read is handed on.
std::size_t FileReader::read_around_damage(const Item& item, io::InputFile& input,
                                           Distributor::File& file, ByteRange range,
                                           const std::string& why, Outcome& outcome) {
    const std::uint64_t end = range.offset + range.length;
    std::uint64_t offset = range.offset;
    ++outcome.retries;  // the block as a whole is tried again
    while (offset < end && !stopped()) {
        Distributor::Block block = distributor_.acquire();
        std::size_t good = 0;
        bool at_damage = false;
        while (offset + good < end && !at_damage) {
            const std::uint64_t sector =
                std::min<std::uint64_t>(options_.sector, end - offset - good);
            std::size_t got = 0;
            at_damage = !read_sector(input, offset + good,
                                     block.bytes().subspan(good, options_.sector), got, outcome);
            if (!at_damage && got == 0)
                return static_cast<std::size_t>(offset + good - range.offset);
            if (!at_damage) good += static_cast<std::size_t>(std::min<std::uint64_t>(got, sector));
        }
        if (good > 0) hand_over(file, std::move(block), offset, good, outcome);
        offset += good;
        if (at_damage) {
            const std::uint64_t lost = std::min<std::uint64_t>(options_.sector, end - offset);
            note_gap(item, file, {offset, lost}, why, outcome);
            offset += lost;
        }
    }
    return static_cast<std::size_t>(offset - range.offset);
}

bool FileReader::read_sector(io::InputFile& input, std::uint64_t offset, std::span<std::byte> into,
                             std::size_t& got, Outcome& outcome) {
    for (unsigned attempt = 0; attempt < std::max(1u, options_.attempts); ++attempt) {
        if (attempt > 0) {
            if (outcome.retries >= retries_a_file || stopped()) return false;
            ++outcome.retries;
        }
        try {
            got = input.read(offset, into);
            return true;
        } catch (const Error& error) {
            if (error.cause() != Cause::unreadable) throw;
        }
    }
    return false;
}

void FileReader::hand_over(Distributor::File& file, Distributor::Block block, std::uint64_t offset,
                           std::size_t length, Outcome& outcome) {
    distributor_.push(file, std::move(block), offset, length);
    outcome.bytes += length;
    listener_.on_bytes(length);
}

void FileReader::note_gap(const Item& item, Distributor::File& file, ByteRange range,
                          const std::string& why, Outcome& outcome) {
    distributor_.gap(file, range.offset, range.length);
    listener_.on_bytes(range.length);
    listener_.on_read_error(item, range, why);
    if (!outcome.gaps.empty() &&
        outcome.gaps.back().offset + outcome.gaps.back().length == range.offset)
        outcome.gaps.back().length += range.length;
    else
        outcome.gaps.push_back(range);
}

}  // namespace glassine::flow
