#include "glassine/recovery/rebuilder.h"

#include "glassine/base/error.h"
#include "glassine/base/text.h"
#include "recovery/damage_map.h"
#include "recovery/emitter.h"
#include "recovery/open_windows.h"
#include "recovery/window_rebuild.h"

#include <algorithm>
#include <optional>

#include <fmt/format.h>

namespace glassine::recovery {

struct Rebuilder::State {
    State(io::FileSystem& given_files, io::Path bag, RecoverySet& given_set,
          std::vector<FileDamage> damages, RebuildOptions given_options)
        : set(given_set),
          map(given_set, std::move(damages)),
          options(std::move(given_options)),
          copies{BagReader(given_files, std::move(bag)), {}} {
        for (const auto& other : options.others)
            copies.others.emplace_back(given_files, other);
    }

    WindowRebuild plan(std::size_t window) {
        WindowRebuild rebuild(set, window, map.lost_blocks(window), copies, options);
        rebuild.plan();
        return rebuild;
    }

    void look_at(std::size_t window);
    void sort_files();

    RecoverySet& set;
    DamageMap map;
    RebuildOptions options;
    Copies copies;
    std::optional<Outlook> outlook;
    std::set<std::string, std::less<>> beyond;
    std::set<std::string, std::less<>> from_copies;
};

/// Adds to the outlook what one window contributes.
void Rebuilder::State::look_at(std::size_t number) {
    const WindowRebuild rebuild = plan(number);
    const Window& window = set.windows()[number].window;
    for (const auto block : rebuild.lost()) {
        const auto way = rebuild.way(block);
        if (way == WindowRebuild::Way::recovery) continue;
        auto& names = way == WindowRebuild::Way::none ? beyond : from_copies;
        names.insert(window.extent_of(block).name);
    }
    if (rebuild.lost().empty()) return;
    outlook->damaged_blocks += rebuild.lost().size();
    outlook->repair_blocks += rebuild.usable_repair_blocks();
    const auto [lost, usable] = rebuild.fullest();
    const auto spare = std::int64_t{usable} - std::int64_t{lost};
    const auto least = std::int64_t{outlook->fullest_repair} - std::int64_t{outlook->fullest_lost};
    if (outlook->fullest_lost == 0 || spare < least) {
        outlook->fullest_lost = lost;
        outlook->fullest_repair = usable;
    }
}

void Rebuilder::State::sort_files() {
    for (const auto& [name, damage] : map.files()) {
        if (map.reaches_outside(damage)) beyond.insert(name);
        auto& names = beyond.contains(name)        ? outlook->beyond
                      : from_copies.contains(name) ? outlook->from_copies
                                                   : outlook->from_recovery;
        names.push_back(name);
    }
}

Rebuilder::Rebuilder(io::FileSystem& files, io::Path bag, RecoverySet& set,
                     std::vector<FileDamage> damages, RebuildOptions options)
    : state_(std::make_unique<State>(files, std::move(bag), set, std::move(damages),
                                     std::move(options))) {}

Rebuilder::~Rebuilder() = default;

const Outlook& Rebuilder::outlook() {
    if (!state_->outlook) {
        state_->outlook.emplace();
        for (const auto window : state_->map.windows())
            state_->look_at(window);
        state_->sort_files();
    }
    return *state_->outlook;
}

void Rebuilder::run(HealedFiles& receiver) {
    outlook();
    Emitter emitter(state_->copies, receiver);
    const auto is_wanted = [this](const std::string& name) {
        return state_->map.find(name) != nullptr && !state_->beyond.contains(name);
    };
    for (const auto number : state_->map.windows()) {
        const Window& window = state_->set.windows()[number].window;
        if (std::none_of(window.extents.begin(), window.extents.end(),
                         [&](const Extent& extent) { return is_wanted(extent.name); })) {
            continue;
        }
        WindowRebuild rebuild = state_->plan(number);
        rebuild.rebuild(
            [&](std::uint32_t block) { return is_wanted(window.extent_of(block).name); });
        for (const auto& extent : window.extents) {
            if (is_wanted(extent.name)) {
                emitter.segment(*state_->map.find(extent.name), window, extent, rebuild);
            }
        }
    }
    emitter.finish();
}

std::string describe(const Outlook& outlook) {
    if (outlook.damaged_blocks == 0) return "no block is damaged";
    return fmt::format(
        "{} damaged, {} usable; the fullest code word has lost {} of the {} that it can give back",
        text::counted(outlook.damaged_blocks, "block"),
        text::counted(outlook.repair_blocks, "repair block"), outlook.fullest_lost,
        outlook.fullest_repair);
}

void regenerate(io::FileSystem& files, const io::Path& bag, const Window& window,
                std::span<flow::Sink* const> outputs, const std::stop_token& stop) {
    OpenWindow open(window, Options{}.waiting_memory);
    std::vector<std::byte> buffer(window.geometry.block_size);
    for (const auto& extent : window.extents) {
        const auto file = files.open(bag / extent.name);
        if (file->info().size != extent.file_size) {
            throw Error(
                Cause::changed, "make recovery data again", (bag / extent.name).string(),
                fmt::format("it has {} bytes instead of {}", file->info().size, extent.file_size));
        }
        for (std::uint32_t i = 0; i < extent.blocks; ++i) {
            if (stop.stop_requested()) {
                throw Error(Cause::interrupted, "make recovery data again", bag.string(),
                            "it was interrupted");
            }
            const std::uint32_t block = extent.first + i;
            const auto bytes = std::span(buffer).first(window.bytes_of(block));
            if (file->read(window.offset_of(block), bytes) != bytes.size()) {
                throw Error(Cause::changed, "make recovery data again",
                            (bag / extent.name).string(), "it became shorter while it was read");
            }
            open.add(block, bytes);
        }
    }
    open.write(outputs);
}

}  // namespace glassine::recovery
