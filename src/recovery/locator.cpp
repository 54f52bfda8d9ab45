#include "glassine/recovery/locator.h"

#include "glassine/base/error.h"
#include "recovery/block_cutter.h"

#include <algorithm>

namespace glassine::recovery {

namespace {

constexpr std::size_t sector = 512;
constexpr std::size_t bits_looked_for =
    256;  ///< damaged ranges of a file in which single flipped bits are sought
constexpr std::size_t read_size = std::size_t{1} << 20;

bool has_zeroed_sector(std::span<const std::byte> block) {
    for (std::size_t at = 0; at + sector <= block.size(); at += sector) {
        const auto piece = block.subspan(at, sector);
        if (std::all_of(piece.begin(), piece.end(), [](std::byte b) { return b == std::byte{0}; }))
            return true;
    }
    return false;
}

void add_range(std::vector<DamagedRange>& ranges, const DamagedRange& next) {
    if (next.length == 0) return;
    if (!ranges.empty()) {
        DamagedRange& last = ranges.back();
        if (last.offset + last.length == next.offset && last.look == next.look && !last.bit &&
            !next.bit) {
            last.length += next.length;
            return;
        }
    }
    ranges.push_back(next);
}

}  // namespace

/// Compares the blocks of one file with their check values.
class Locator::Reading : public flow::Stream {
  public:
    Reading(Locator& locator, std::string name, const CoveredFile& file)
        : locator_(locator),
          file_(file),
          block_size_(window_of(0).geometry.block_size),
          cutter_(file.size, block_size_) {
        located_.damage.name = std::move(name);
        located_.damage.size = file.size;
    }

    void block(std::uint64_t offset, std::span<const std::byte> bytes) override {
        end_ = offset + bytes.size();
        if (offset < resume_) {
            const std::uint64_t dropped = std::min<std::uint64_t>(resume_ - offset, bytes.size());
            bytes = bytes.subspan(static_cast<std::size_t>(dropped));
        }
        cutter_.add(bytes, [this](std::uint64_t at, std::span<const std::byte> block) {
            look_at(at, block);
        });
    }

    void gap(std::uint64_t offset, std::uint64_t length) override {
        end_ = offset + length;
        const std::uint64_t from = std::max(std::min(offset, cutter_.block()), resume_);
        cutter_.skip_to(end_);
        resume_ = cutter_.block();
        const std::uint64_t to = std::min(resume_, file_.size);
        if (from < to) add_range(ranges(), {from, to - from, Look::unreadable, {}});
    }

    void finish(const flow::Outcome& outcome) override {
        FileDamage& damage = located_.damage;
        if (outcome.status == flow::Status::cancelled) return;
        if (outcome.status == flow::Status::vanished) {
            damage.ranges = {};
            add_range(damage.ranges, {0, file_.size, Look::lost, {}});
        } else if (outcome.status == flow::Status::unreadable && end_ == 0) {
            damage.found_size = file_.size;
            add_range(damage.ranges, {0, file_.size, Look::unreadable, {}});
        } else {
            damage.found_size = end_;
            const std::uint64_t from = std::min(cutter_.block(), file_.size);
            if (end_ < file_.size)
                add_range(damage.ranges, {from, file_.size - from, Look::truncated, {}});
        }
        locator_.keep(std::move(located_));
    }

  private:
    const Window& window_of(std::size_t segment) const {
        return locator_.set_.windows()[file_.segments[segment].window].window;
    }
    const Extent& extent_of(std::size_t segment) const {
        return window_of(segment).extents[file_.segments[segment].extent];
    }
    std::uint64_t end_of(std::size_t segment) const {
        return extent_of(segment).offset + std::uint64_t{extent_of(segment).blocks} * block_size_;
    }
    std::vector<DamagedRange>& ranges() { return located_.damage.ranges; }

    void look_at(std::uint64_t offset, std::span<const std::byte> block) {
        const auto expected = expected_check(offset);
        if (!expected) {
            add_range(located_.unknown, {offset, block.size(), Look::unknown, {}});
            return;
        }
        const Check check = check_of(block);
        if (check == *expected) return;
        DamagedRange range{offset, block.size(), Look::foreign, {}};
        if (ranges().size() < bits_looked_for) {
            if (const auto bit = single_flipped_bit(*expected, check, block.size())) {
                range.look = Look::flipped_bits;
                range.bit = 8 * offset + *bit;
            }
        }
        if (!range.bit && has_zeroed_sector(block)) range.look = Look::zeroed;
        add_range(ranges(), range);
    }

    /// Nothing where the recovery data does not tell (any more).
    std::optional<Check> expected_check(std::uint64_t offset) {
        while (segment_ < file_.segments.size() && end_of(segment_) <= offset) {
            ++segment_;
            checks_.reset();
        }
        if (segment_ == file_.segments.size() || offset < extent_of(segment_).offset)
            return std::nullopt;
        if (!checks_) checks_ = locator_.checks(file_.segments[segment_].window);
        const Extent& extent = extent_of(segment_);
        const std::size_t block =
            extent.first + static_cast<std::size_t>((offset - extent.offset) / block_size_);
        if (!checks_->known[block]) return std::nullopt;
        return checks_->values[block];
    }

    Locator& locator_;
    const CoveredFile& file_;
    std::uint32_t block_size_;
    BlockCutter cutter_;
    Located located_;
    std::uint64_t end_ = 0;  ///< of what was read or could not be read
    std::uint64_t resume_ =
        0;  ///< behind a gap: bytes before this belong to a block that is lost anyway
    std::size_t segment_ = 0;
    std::shared_ptr<const Checks> checks_;
};

std::unique_ptr<flow::Stream> Locator::open(const flow::Item& item) {
    const CoveredFile* file = set_.find(item.name);
    if (file == nullptr) return nullptr;
    return std::make_unique<Reading>(*this, item.name, *file);
}

void Locator::lost(std::string_view name) {
    const CoveredFile* file = set_.find(name);
    if (file == nullptr) return;
    Located located;
    located.damage.name = name;
    located.damage.size = file->size;
    add_range(located.damage.ranges, {0, file->size, Look::lost, {}});
    keep(std::move(located));
}

std::shared_ptr<const Checks> Locator::checks(std::size_t window) {
    const std::lock_guard lock(set_mutex_);
    return set_.checks(window);
}

void Locator::keep(Located located) {
    const FileDamage& damage = located.damage;
    if (damage.ranges.empty() && located.unknown.empty() && damage.found_size == damage.size)
        return;
    const std::lock_guard lock(mutex_);
    std::string name = damage.name;
    located_.insert_or_assign(std::move(name), std::move(located));
}

std::vector<FileDamage> Locator::damages(
    const std::function<bool(std::string_view name)>& proven) const {
    std::vector<FileDamage> all;
    for (const auto& [name, located] : located_) {
        FileDamage damage = located.damage;
        const bool located_some = !damage.ranges.empty() || damage.found_size != damage.size;
        if (proven ? !proven(name) : located_some) {
            damage.ranges.insert(damage.ranges.end(), located.unknown.begin(),
                                 located.unknown.end());
            std::sort(damage.ranges.begin(), damage.ranges.end(),
                      [](const auto& a, const auto& b) { return a.offset < b.offset; });
        }
        if (!damage.ranges.empty() || damage.found_size != damage.size)
            all.push_back(std::move(damage));
    }
    return all;
}

namespace {

/// Reads one file for a locator, sector by sector where the medium fails.
void read_for(flow::Stream& stream, io::InputFile& file) {
    const std::uint64_t size = file.info().size;
    std::vector<std::byte> buffer(read_size);
    flow::Outcome outcome;
    for (std::uint64_t offset = 0; offset < size;) {
        const auto wanted =
            static_cast<std::size_t>(std::min<std::uint64_t>(buffer.size(), size - offset));
        try {
            const std::size_t got = file.read(offset, std::span(buffer).first(wanted));
            if (got == 0) break;
            stream.block(offset, std::span(buffer).first(got));
            offset += got;
            buffer.resize(read_size);
        } catch (const Error& error) {
            if (error.cause() != Cause::unreadable) throw;
            constexpr std::size_t medium_sector = 4096;
            if (buffer.size() > medium_sector) {
                buffer.resize(medium_sector);
                continue;
            }
            stream.gap(offset, wanted);
            offset += wanted;
        }
    }
    stream.finish(outcome);
}

void read_into(Locator& locator, io::FileSystem& files, const io::Path& bag,
               const std::string& name) {
    flow::Item item;
    item.name = name;
    try {
        const auto stream = locator.open(item);
        if (!stream) return;
        const auto file = files.open(bag / name);
        read_for(*stream, *file);
    } catch (const Error& error) {
        if (error.cause() == Cause::not_found) return locator.lost(name);
        flow::Outcome outcome;
        outcome.status = flow::Status::unreadable;
        locator.open(item)->finish(outcome);
    }
}

}  // namespace

std::vector<FileDamage> locate(io::FileSystem& files, const io::Path& bag, RecoverySet& set,
                               const std::vector<std::string>& names,
                               const std::function<bool(std::string_view name)>& proven) {
    Locator locator(set);
    std::vector<std::string> all = names;
    if (all.empty()) {
        for (const auto& [name, file] : set.covered())
            all.emplace_back(name);
        std::sort(all.begin(), all.end());
    }
    for (const auto& name : all) {
        read_into(locator, files, bag, name);
    }
    return locator.damages(proven);
}

}  // namespace glassine::recovery
