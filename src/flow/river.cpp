#include "glassine/flow/river.h"

#include "flow/file_reader.h"
#include "flow/rate.h"

#include <algorithm>
#include <atomic>
#include <condition_variable>
#include <exception>
#include <limits>
#include <mutex>
#include <numeric>
#include <thread>
#include <utility>

namespace glassine::flow {
namespace {

constexpr std::chrono::milliseconds tick{100};
/// More readers than this gain nothing on a drive without moving parts and cost memory.
constexpr std::size_t most_readers = 4;

/// What the files lie on, asked of a few spread over the list.
struct Medium {
    bool rotates = false;
    std::size_t requests = 0;  ///< an object store's; 0: it is none
};
Medium medium_of(io::FileSystem& files, const Reading& reading) {
    constexpr std::size_t probes = 8;
    Medium medium;
    for (std::size_t i = 0; i < std::min(probes, reading.count); ++i) {
        const std::size_t index = i * reading.count / std::min(probes, reading.count);
        try {
            const io::Volume volume = files.volume(reading.item(index).path);
            medium.rotates = medium.rotates || volume.rotates;
            medium.requests = std::max<std::size_t>(medium.requests, volume.requests);
        } catch (const Error&) {
            // A file that cannot be asked shows when its turn to be read comes.
            continue;
        }
    }
    return medium;
}

/// One run: what its threads share.
class Run {
  public:
    Run(io::FileSystem& files, const Reading& reading, std::span<Sink* const> sinks,
        const Options& options)
        : files_(files),
          reading_(reading),
          options_(options),
          distributor_(sinks, options.resources) {
        const bool in_turn = !options.arrange || std::ranges::any_of(sinks, &Sink::one_at_a_time);
        const Medium medium = medium_of(files, reading);
        const bool single = in_turn || medium.rotates;
        if (single && options.arrange && options.cache == io::Cache::use)
            order_ = order_on_volume(files, reading);
        const std::size_t cores = std::max(1u, std::thread::hardware_concurrency());
        // Readers of a store mostly wait: for its answers, not for a core.
        const std::size_t useful =
            medium.requests > 0 ? medium.requests : std::min(cores, most_readers);
        readers_ = single ? 1 : std::min(useful, std::max<std::size_t>(reading.count, 1));
    }

    Result go() {
        const auto start = std::chrono::steady_clock::now();
        {
            std::vector<std::jthread> threads;
            working_ = readers_;
            for (std::size_t i = 0; i < readers_; ++i)
                threads.emplace_back([this] { read_files(); });
            while (!readers_done())
                tell();
        }
        while (!distributor_.wait_for(tick))
            tell_progress();
        tell();
        if (fault_) std::rethrow_exception(fault_);
        Result result;
        result.cancelled = options_.stop.stop_requested();
        result.bytes = bytes_;
        result.files = files_read_;
        result.seconds =
            std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
        result.bypass = bypass_;
        result.sink_failures = distributor_.failures();
        return result;
    }

  private:
    void read_files() {
        FileReader reader(files_, distributor_, options_,
                          {[this](std::uint64_t n) { bytes_ += n; },
                           [this](const Item& item, ByteRange range, const std::string& why) {
                               const std::lock_guard lock(mutex_);
                               errors_.push_back({item.id, item.name, range, why});
                           }});
        try {
            for (;;) {
                const std::size_t turn = next_.fetch_add(1);
                if (turn >= reading_.count || options_.stop.stop_requested() ||
                    distributor_.all_failed())
                    break;
                const Item item = reading_.item(order_.empty() ? turn : order_[turn]);
                const Outcome outcome = reader.read(item);
                ++files_read_;
                if (!options_.on_item) continue;
                const std::lock_guard lock(item_mutex_);
                options_.on_item(item, outcome);
            }
        } catch (...) {
            const std::lock_guard lock(mutex_);
            fault_ = std::current_exception();
        }
        const std::lock_guard lock(mutex_);
        bypass_ = std::max(bypass_, reader.bypass());
        --working_;
        changed_.notify_all();
    }

    bool readers_done() {
        std::unique_lock lock(mutex_);
        return changed_.wait_for(lock, tick, [this] { return working_ == 0; });
    }

    void tell() {
        tell_progress();
        std::vector<ReadError> errors;
        {
            const std::lock_guard lock(mutex_);
            errors.swap(errors_);
        }
        if (options_.observer == nullptr) return;
        for (const ReadError& error : errors)
            options_.observer->read_error(error);
    }

    void tell_progress() {
        if (options_.observer == nullptr) return;
        Progress progress;
        progress.bytes = bytes_;
        progress.total_bytes = reading_.total_bytes;
        progress.files = files_read_;
        progress.total_files = reading_.count;
        progress.rate = rate_.update(progress.bytes, RateMeter::Clock::now());
        if (progress.rate > 0 && progress.total_bytes > progress.bytes)
            progress.seconds_left =
                static_cast<double>(progress.total_bytes - progress.bytes) / progress.rate;
        options_.observer->progress(progress);
    }

    io::FileSystem& files_;
    const Reading& reading_;
    const Options& options_;
    Distributor distributor_;
    std::vector<std::size_t> order_;
    std::size_t readers_ = 1;

    std::atomic<std::size_t> next_{0};
    std::atomic<std::uint64_t> bytes_{0};
    std::atomic<std::uint64_t> files_read_{0};

    std::mutex item_mutex_;
    std::mutex mutex_;  ///< guards what follows
    std::condition_variable changed_;
    std::size_t working_ = 0;
    std::vector<ReadError> errors_;
    std::exception_ptr fault_;
    io::Bypass bypass_ = io::Bypass::direct;

    RateMeter rate_;  ///< touched by the calling thread only
};

}  // namespace

Reading reading_of(std::span<const Item> items) {
    Reading reading;
    reading.count = items.size();
    reading.item = [items](std::size_t index) { return items[index]; };
    for (const Item& item : items)
        reading.total_bytes += item.size;
    return reading;
}

Result River::run(const Reading& reading, std::span<Sink* const> sinks, const Options& options) {
    return Run(files_, reading, sinks, options).go();
}

std::vector<std::size_t> order_on_volume(io::FileSystem& files, const Reading& reading) {
    std::vector<std::uint64_t> position(reading.count, std::numeric_limits<std::uint64_t>::max());
    for (std::size_t i = 0; i < reading.count; ++i) {
        try {
            if (const auto at = files.open(reading.item(i).path)->physical_position())
                position[i] = *at;
        } catch (const Error&) {
            continue;  // met again, and reported, when it is read
        }
    }
    std::vector<std::size_t> order(reading.count);
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::stable_sort(order, {}, [&](std::size_t i) { return position[i]; });
    return order;
}

}  // namespace glassine::flow
