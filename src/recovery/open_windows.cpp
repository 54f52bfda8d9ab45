#include "recovery/open_windows.h"

#include "glassine/base/error.h"
#include "recovery/file_writer.h"

#include <algorithm>
#include <cassert>

namespace glassine::recovery {

namespace {

std::uint64_t repair_memory(const Window& window) {
    return std::uint64_t{window.geometry.repair_blocks()} * window.geometry.block_size;
}

}  // namespace

OpenWindow::OpenWindow(const Window& window, std::uint64_t waiting_memory)
    : window_(window), checks_(window.geometry.blocks), missing_(window.geometry.blocks) {
    if (window.geometry.blocks > 0) {
        accumulator_ = std::make_unique<Accumulator>(window.geometry, waiting_memory);
    }
}

bool OpenWindow::add(std::uint32_t block, std::span<const std::byte> bytes) {
    checks_[block] = check_of(bytes);
    accumulator_->add(block, bytes);
    return missing_.fetch_sub(1, std::memory_order_acq_rel) == 1;
}

std::uint64_t OpenWindow::write(std::span<flow::Sink* const> outputs) {
    if (accumulator_) accumulator_->flush();
    return write_recovery_file(
        window_, checks_, [this](std::uint32_t index) { return accumulator_->repair_block(index); },
        outputs);
}

void OpenWindows::expect(const std::vector<Window>& windows) {
    for (const auto& window : windows)
        places_.push_back({.window = &window, .stage = Stage::expected, .open = {}});
}

std::shared_ptr<OpenWindow> OpenWindows::open(std::size_t place) {
    std::unique_lock lock(mutex_);
    Place& wanted = places_[place];
    if (wanted.stage == Stage::open) return wanted.open;
    if (wanted.stage != Stage::expected) {
        throw Error(Cause::other, "make recovery data", wanted.window->extents.front().name,
                    "a file of a finished window came again");
    }
    while (!room_for(*wanted.window)) {
        if (!any_closing()) {
            throw Error(Cause::other, "make recovery data", wanted.window->extents.front().name,
                        "the files of the window before it have not all come",
                        "read the files in the sets that the encoder gives");
        }
        closed_one_.wait(lock);
    }
    if (wanted.stage == Stage::expected) {
        // Opened outside the lock it would be opened twice; the time it takes is that of clearing
        // its memory.
        wanted.open = std::make_shared<OpenWindow>(*wanted.window, options_.waiting_memory);
        wanted.stage = Stage::open;
    }
    return wanted.open;
}

void OpenWindows::close(std::size_t place, std::shared_ptr<OpenWindow> window) {
    {
        const std::lock_guard lock(mutex_);
        assert(places_[place].stage == Stage::open);
        places_[place].stage = Stage::closing;
        places_[place].open.reset();
    }
    const Window& closing = *places_[place].window;
    {
        const std::lock_guard lock(writing_);
        const std::uint64_t size = window->write(outputs_);
        written_.push_back({file_name(closing.group, closing.number), size});
    }
    window.reset();
    const std::lock_guard lock(mutex_);
    places_[place].stage = Stage::closed;
    closed_one_.notify_all();
}

bool OpenWindows::close_empty() {
    for (std::size_t i = 0; i < places_.size(); ++i) {
        if (places_[i].stage == Stage::expected && places_[i].window->geometry.blocks == 0)
            close(i, open(i));
    }
    return std::all_of(places_.begin(), places_.end(),
                       [](const Place& p) { return p.stage == Stage::closed; });
}

bool OpenWindows::room_for(const Window& window) const {
    std::uint64_t taken = 0;
    for (const auto& place : places_) {
        if (place.stage == Stage::open || place.stage == Stage::closing)
            taken += repair_memory(*place.window);
    }
    return taken == 0 || taken + repair_memory(window) <= options_.window_memory;
}

bool OpenWindows::any_closing() const {
    return std::any_of(places_.begin(), places_.end(),
                       [](const Place& p) { return p.stage == Stage::closing; });
}

}  // namespace glassine::recovery
