#include "glassine/photo/picture_sink.h"

#include "glassine/digest/digest.h"
#include "photo/picture_stream.h"

#include <algorithm>
#include <exception>
#include <thread>
#include <vector>

namespace glassine::photo {

struct PictureSink::Shared : StreamOwner {
    using StreamOwner::StreamOwner;
};

PictureSink::PictureSink(io::FileSystem& files, Report report, Options options)
    : shared_(std::make_unique<Shared>(files, std::move(report), std::move(options))) {}

PictureSink::~PictureSink() = default;

std::unique_ptr<flow::Stream> PictureSink::open(const flow::Item& item) {
    return std::make_unique<PictureStream>(*shared_, item);
}

void PictureSink::complete() {
    std::mutex mutex;
    std::exception_ptr failure;
    const auto work = [&] {
        try {
            while (shared_->examine_next_put_off(true)) {
            }
        } catch (...) {
            const std::lock_guard lock(mutex);
            if (!failure) failure = std::current_exception();
        }
    };
    {
        const std::size_t waiting = shared_->put_off_count();
        const std::size_t cores = std::max(1u, std::thread::hardware_concurrency());
        std::vector<std::jthread> threads;
        for (std::size_t i = 1; i < std::min(waiting, cores); ++i)
            threads.emplace_back(work);
        work();
    }
    if (failure) std::rethrow_exception(failure);
}

std::size_t PictureSink::read_again() const {
    return shared_->read_again();
}

}  // namespace glassine::photo
