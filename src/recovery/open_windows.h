#pragma once

#include "glassine/flow/sink.h"
#include "glassine/recovery/check.h"
#include "recovery/accumulator.h"

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <memory>
#include <mutex>
#include <vector>

namespace glassine::recovery {

/// A window whose blocks are coming in.
class OpenWindow {
  public:
    OpenWindow(const Window& window, std::uint64_t waiting_memory);

    /// Takes in one block of the window; true when it was the last one missing. Thread-safe.
    bool add(std::uint32_t block, std::span<const std::byte> bytes);
    /// Writes the recovery file. Returns its size.
    std::uint64_t write(std::span<flow::Sink* const> outputs);

  private:
    const Window& window_;
    std::vector<Check> checks_;
    std::unique_ptr<Accumulator> accumulator_;  ///< none for a window without blocks
    std::atomic<std::uint32_t> missing_;
};

/// Opens windows as their blocks come and closes them when they are full, within the memory
/// allowed.
class OpenWindows {
  public:
    OpenWindows(const Options& options, std::vector<flow::Sink*> outputs)
        : options_(options), outputs_(std::move(outputs)) {}

    /// Adds windows; they must stay where they are. Not while blocks are coming.
    void expect(const std::vector<Window>& windows);

    /// The open window, opened now if need be. `place` counts all expected windows.
    std::shared_ptr<OpenWindow> open(std::size_t place);
    /// All blocks have come: writes the recovery file and gives the memory back.
    void close(std::size_t place, std::shared_ptr<OpenWindow> window);

    /// Writes the windows that have no blocks. True when every window is then closed.
    bool close_empty();
    const std::vector<FileSize>& written() const { return written_; }

  private:
    enum class Stage { expected, open, closing, closed };
    struct Place {
        const Window* window;
        Stage stage = Stage::expected;
        std::shared_ptr<OpenWindow> open;
    };
    bool room_for(const Window& window) const;
    bool any_closing() const;

    Options options_;
    std::vector<flow::Sink*> outputs_;
    std::mutex mutex_;
    std::condition_variable closed_one_;
    std::deque<Place> places_;
    std::mutex writing_;
    std::vector<FileSize> written_;
};

}  // namespace glassine::recovery
