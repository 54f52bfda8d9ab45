#include "glassine/flow/handout.h"

#include <atomic>
#include <exception>
#include <mutex>
#include <thread>

namespace glassine::flow {
namespace {

/// Files synced side by side: the journal of one serves the others.
constexpr std::size_t sync_threads = 4;

}  // namespace

void sync_files(io::FileSystem& files, std::span<const io::Path> paths) {
    std::atomic<std::size_t> next{0};
    std::mutex mutex;
    std::exception_ptr fault;
    const auto work = [&] {
        try {
            for (std::size_t at = next++; at < paths.size(); at = next++)
                files.sync_file(paths[at]);
        } catch (const Error&) {
            const std::lock_guard lock(mutex);
            fault = std::current_exception();
        }
    };
    {
        std::vector<std::jthread> threads;
        for (std::size_t i = 0; i < sync_threads; ++i)
            threads.emplace_back(work);
    }
    if (fault) std::rethrow_exception(fault);
}

}  // namespace glassine::flow
