#include "glassine/shelf/volume_log.h"

#include "glassine/base/error.h"
#include "glassine/io/files.h"
#include "glassine/shelf/volume.h"

#include <array>
#include <chrono>
#include <thread>

namespace glassine::shelf {

namespace {

using namespace std::chrono_literals;

constexpr std::uint64_t largest_log = 1u << 30;
constexpr auto patience = 30s;

/// The log's own lock, waited for: no lock file is left on the drive.
std::unique_ptr<io::Lock> lock(io::FileSystem& files, const io::Path& log) {
    const auto end = std::chrono::steady_clock::now() + patience;
    while (true) {
        if (auto held = files.try_lock(log)) return held;
        if (std::chrono::steady_clock::now() >= end) break;
        std::this_thread::sleep_for(20ms);
    }
    throw Error(Cause::busy, "write to the volume's event log", log.string(),
                "another program holds it", "wait until it is done, then run the command again");
}

/// Whether the file has content and its last byte is no line feed.
bool ends_torn(io::FileSystem& files, const io::Path& log) {
    const auto file = files.open(log);
    const std::uint64_t size = file->info().size;
    if (size == 0) return false;
    std::array<std::byte, 1> last{};
    return file->read(size - 1, last) == 1 && last[0] != std::byte{'\n'};
}

}  // namespace

void append_to_volume_log(io::FileSystem& files, const io::Path& root,
                          std::span<const Event> events) {
    if (events.empty()) return;
    const io::Path log = root / event_log_name;
    const bool is_new = !files.find(log);
    const auto held = lock(files, log);
    std::string lines;
    if (!is_new && ends_torn(files, log)) lines += '\n';
    lines += to_json_lines(events);
    const auto file = files.append_to(log);
    file->append(lines);
    file->sync();
    file->close();
    if (is_new) files.sync_directory(root);
}

EventLines read_volume_log(io::FileSystem& files, const io::Path& root) {
    const io::Path log = root / event_log_name;
    if (!files.find(log)) return {};
    return parse_event_lines(io::read_small_file(files, log, largest_log));
}

}  // namespace glassine::shelf
