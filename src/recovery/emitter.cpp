#include "recovery/emitter.h"

#include "glassine/base/text.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::recovery {

void Emitter::segment(const FileDamage& damage, const Window& window, const Extent& extent,
                      WindowRebuild& rebuild) {
    if (damage_ != &damage && !begin(damage)) return;
    if (!copy_until(extent.offset)) return;
    for (std::uint32_t i = 0; i < extent.blocks; ++i) {
        if (!emit_block(window, extent.first + i, rebuild)) return;
    }
}

bool Emitter::begin(const FileDamage& damage) {
    if (failed_.contains(damage.name)) return false;
    finish();
    damage_ = &damage;
    healed_ = {};
    healed_.name = damage.name;
    healed_.size = damage.size;
    position_ = 0;
    receiver_.begin(damage.name, damage.size);
    return true;
}

bool Emitter::emit_block(const Window& window, std::uint32_t block, WindowRebuild& rebuild) {
    buffer_.resize(window.bytes_of(block));
    if (!rebuild.read(block, buffer_)) {
        fail(fmt::format("more damage came to light at byte {}", text::grouped(position_)));
        return false;
    }
    if (rebuild.is_lost(block)) {
        const bool rebuilt = rebuild.way(block) == WindowRebuild::Way::recovery;
        ++(rebuilt ? healed_.blocks_rebuilt : healed_.blocks_from_copies);
        tell_change(position_, buffer_);
    }
    receiver_.bytes(buffer_);
    position_ += buffer_.size();
    return true;
}

void Emitter::tell_change(std::uint64_t offset, std::span<const std::byte> right) {
    old_.resize(right.size());
    const auto got =
        damage_->found_size ? copies_.own.read(damage_->name, offset, old_) : std::nullopt;
    const auto known = std::span(old_).first(got.value_or(0));
    compare(offset, known, right.first(known.size()), healed_.changes);
    if (known.size() == right.size()) return;
    const Look look = !damage_->found_size ? Look::lost : got ? Look::truncated : Look::unreadable;
    add_change(healed_.changes, {.offset = offset + known.size(),
                                 .length = right.size() - known.size(),
                                 .bytes_changed = right.size() - known.size(),
                                 .bits_changed = 0,
                                 .look = look,
                                 .bit = {}});
}

bool Emitter::copy_until(std::uint64_t end) {
    constexpr std::uint64_t piece = 1u << 20;
    while (position_ < end) {
        buffer_.resize(static_cast<std::size_t>(std::min(piece, end - position_)));
        if (!copies_.own.read_all(damage_->name, position_, buffer_)) {
            fail("a part that no recovery data covers cannot be read");
            return false;
        }
        receiver_.bytes(buffer_);
        position_ += buffer_.size();
    }
    return true;
}

void Emitter::fail(const std::string& why) {
    failed_.insert(damage_->name);
    receiver_.failed(damage_->name, why);
    damage_ = nullptr;
}

void Emitter::finish() {
    if (damage_ == nullptr || !copy_until(damage_->size)) return;
    if (damage_->found_size > damage_->size) {
        const std::uint64_t surplus = *damage_->found_size - damage_->size;
        add_change(healed_.changes, {.offset = damage_->size,
                                     .length = surplus,
                                     .bytes_changed = surplus,
                                     .bits_changed = 0,
                                     .look = Look::surplus,
                                     .bit = {}});
    }
    receiver_.end(healed_);
    damage_ = nullptr;
}

}  // namespace glassine::recovery
