#include "glassine/recovery/encoder.h"

#include "glassine/base/error.h"
#include "recovery/block_cutter.h"
#include "recovery/open_windows.h"

#include <array>
#include <mutex>
#include <unordered_map>

#include <fmt/format.h>

namespace glassine::recovery {

namespace {

constexpr std::string_view task = "make recovery data";

std::uint64_t bytes_of(const std::vector<FileSize>& files) {
    std::uint64_t bytes = 0;
    for (const auto& file : files)
        bytes += file.size;
    return bytes;
}

}  // namespace

struct Encoder::State {
    /// Where a file begins, and how far it has come.
    struct File {
        std::uint64_t size = 0;
        std::size_t place = 0;  ///< of the window in which it begins, among all windows
        const Extent* extent = nullptr;
        bool begun = false;
        bool whole = false;
    };

    State(const Options& given, std::vector<flow::Sink*> outputs)
        : options(given), open_windows(given, std::move(outputs)) {}

    void expect(Group group, std::vector<FileSize> files) {
        auto& planned = windows[static_cast<std::size_t>(group)];
        const std::size_t before = places.size();
        planned = plan(group, std::move(files), options, payload_bytes);
        for (const auto& window : planned) {
            places.push_back(&window);
            for (const auto& extent : window.extents) {
                if (extent.offset > 0) continue;
                this->files[extent.name] = {extent.file_size, before + window.number, &extent};
            }
        }
        open_windows.expect(planned);
    }

    Options options;
    std::uint64_t payload_bytes = 0;
    std::array<std::vector<Window>, 2> windows;  ///< by group; never moved once made
    std::vector<const Window*> places;
    std::mutex mutex;  ///< of `files`
    std::unordered_map<std::string_view, File> files;
    OpenWindows open_windows;
};

/// Cuts a file into blocks and hands each to its window.
class Encoder::Reading : public flow::Stream {
  public:
    Reading(State& state, std::string_view name, State::File& file)
        : state_(state),
          name_(name),
          file_(file),
          place_(file.place),
          extent_(file.extent),
          cutter_(file.size, state.options.block_size) {}

    void block(std::uint64_t offset, std::span<const std::byte> bytes) override {
        if (incomplete_) return;
        if (offset != cutter_.position()) {
            throw Error(Cause::other, std::string(task), std::string(name_),
                        "its bytes did not come in order");
        }
        if (bytes.size() > file_.size - offset) throw_changed(offset + bytes.size(), "or more");
        cutter_.add(
            bytes, [this](std::uint64_t at, std::span<const std::byte> block) { take(at, block); });
    }

    // What could not be read is reported by who reads it; here the window stays open.
    void gap(std::uint64_t, std::uint64_t) override { incomplete_ = true; }

    void finish(const flow::Outcome& outcome) override {
        if (outcome.status != flow::Status::whole || incomplete_) return;
        if (cutter_.position() != file_.size) throw_changed(cutter_.position(), "");
        const std::lock_guard lock(state_.mutex);
        file_.whole = true;
    }

  private:
    [[noreturn]] void throw_changed(std::uint64_t bytes, std::string_view or_more) const {
        throw Error(Cause::changed, std::string(task), std::string(name_),
                    fmt::format("it was listed with {} bytes and has {}{}{}", file_.size, bytes,
                                or_more.empty() ? "" : " ", or_more));
    }

    void take(std::uint64_t offset, std::span<const std::byte> bytes) {
        if (!window_) window_ = state_.open_windows.open(place_);
        const auto in_extent =
            static_cast<std::uint32_t>((offset - extent_->offset) / state_.options.block_size);
        const bool last_of_window = window_->add(extent_->first + in_extent, bytes);
        if (in_extent + 1 < extent_->blocks) return;
        // This window needs nothing more from here: give it back before the file ends.
        auto window = std::move(window_);
        if (last_of_window) state_.open_windows.close(place_, std::move(window));
        if (offset + bytes.size() < file_.size) extent_ = &state_.places[++place_]->extents.front();
    }

    State& state_;
    std::string_view name_;
    State::File& file_;
    std::size_t place_;
    const Extent* extent_;
    std::shared_ptr<OpenWindow> window_;
    BlockCutter cutter_;
    bool incomplete_ = false;
};

Encoder::Encoder(const Options& options, std::vector<FileSize> payload,
                 std::vector<flow::Sink*> outputs)
    : state_(std::make_unique<State>(options, std::move(outputs))) {
    state_->payload_bytes = bytes_of(payload);
    state_->expect(Group::payload, std::move(payload));
}

Encoder::~Encoder() = default;

std::unique_ptr<flow::Stream> Encoder::open(const flow::Item& item) {
    const std::lock_guard lock(state_->mutex);
    const auto found = state_->files.find(item.name);
    if (found == state_->files.end()) return nullptr;
    auto& [name, file] = *found;
    if (file.begun) throw Error(Cause::other, std::string(task), item.name, "the file came twice");
    file.begun = true;
    return std::make_unique<Reading>(*state_, name, file);
}

const std::vector<Window>& Encoder::windows() const {
    return state_->windows[static_cast<std::size_t>(Group::payload)];
}

std::vector<std::vector<std::string_view>> Encoder::reading_sets() const {
    return recovery::reading_sets(windows());
}

std::uint64_t Encoder::expected_bytes() const {
    std::uint64_t bytes = 0;
    for (const auto& window : windows())
        bytes += file_size(window);
    return bytes;
}

void Encoder::add_tag_files(std::vector<FileSize> tags) {
    const std::lock_guard lock(state_->mutex);
    state_->expect(Group::tags, std::move(tags));
}

void Encoder::put(std::string_view name, std::string_view content) {
    flow::Item item;
    item.name = name;
    item.size = content.size();
    auto stream = open(item);
    if (!stream) throw Error(Cause::other, std::string(task), item.name, "the file was not listed");
    stream->block(0, std::as_bytes(std::span(content.data(), content.size())));
    flow::Outcome outcome;
    outcome.bytes = content.size();
    stream->finish(outcome);
}

std::vector<FileSize> Encoder::finish() {
    for (const auto& [name, file] : state_->files) {
        if (!file.whole) {
            throw Error(
                Cause::other, std::string(task), std::string(name),
                file.begun ? "the file could not be read to its end" : "the file did not come");
        }
    }
    if (!state_->open_windows.close_empty()) {
        throw Error(Cause::other, std::string(task), "", "a window of code words is not complete");
    }
    return state_->open_windows.written();
}

}  // namespace glassine::recovery
