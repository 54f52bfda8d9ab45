#include "journeys/carrying_sinks.h"

#include <algorithm>
#include <array>
#include <memory>
#include <utility>

namespace glassine::journeys {

class ZerosForGaps::Filling : public flow::Stream {
  public:
    explicit Filling(std::unique_ptr<flow::Stream> target) : target_(std::move(target)) {}

    void block(std::uint64_t offset, std::span<const std::byte> bytes) override {
        target_->block(offset, bytes);
        bytes_ = offset + bytes.size();
    }

    void gap(std::uint64_t offset, std::uint64_t length) override {
        static constexpr std::array<std::byte, 64u << 10> zeros{};
        for (std::uint64_t at = 0; at < length;) {
            const auto some =
                static_cast<std::size_t>(std::min<std::uint64_t>(zeros.size(), length - at));
            target_->block(offset + at, std::span(zeros).first(some));
            at += some;
        }
        bytes_ = offset + length;
    }

    void finish(const flow::Outcome& outcome) override {
        flow::Outcome filled = outcome;
        if (outcome.status == flow::Status::gaps) {
            filled.status = flow::Status::whole;
            filled.gaps.clear();
            filled.bytes = bytes_;
        }
        target_->finish(filled);
    }

  private:
    std::unique_ptr<flow::Stream> target_;
    std::uint64_t bytes_ = 0;
};

std::unique_ptr<flow::Stream> ZerosForGaps::open(const flow::Item& item) {
    auto stream = target_.open(item);
    if (!stream) return nullptr;
    return std::make_unique<Filling>(std::move(stream));
}

CopySinks::CopySinks(flow::Destination& destination)
    : writer_(destination.sink()),
      hashing_({digest::Algorithm::sha512},
               [this](const flow::Item& item, const std::vector<digest::Value>& values) {
                   written_[item.name] = values.front();
               }),
      digests_(hashing_) {}

void CopySinks::rethrow(const flow::Result& result) const {
    for (const flow::SinkFailure& failure : result.sink_failures)
        if (failure.sink == &writer_ || failure.sink == &digests_) throw Error(failure.error);
}

/// One file that takes the place of a damaged one when it is kept.
class IntoCopy::Replacing : public flow::Receiver::File {
  public:
    Replacing(IntoCopy& owner, flow::Item item)
        : owner_(owner), item_(std::move(item)), hasher_(digest::Algorithm::sha512) {
        const std::lock_guard lock(owner_.mutex_);
        if (owner_.copy_.written().contains(item_.name)) {
            owner_.destination_.withdraw(item_.name);
            owner_.copy_.withdrawn(item_.name);
        }
        stream_ = owner_.destination_.sink().open(item_);
    }
    Replacing(const Replacing&) = delete;
    ~Replacing() override {
        if (!stream_) return;
        try {
            stream_->finish({});
            owner_.destination_.withdraw(item_.name);
        } catch (const Error&) {
            // The copy cannot be sealed then: a file more stands in it than was proven.
            stream_.reset();
        }
    }

    void append(std::span<const std::byte> bytes) override {
        hasher_.update(bytes);
        stream_->block(bytes_, bytes);
        bytes_ += bytes.size();
    }

    void keep() override {
        flow::Outcome outcome;
        outcome.bytes = bytes_;
        stream_->finish(outcome);
        stream_.reset();
        const std::lock_guard lock(owner_.mutex_);
        owner_.copy_.replaced(item_.name, hasher_.finish());
    }

  private:
    IntoCopy& owner_;
    flow::Item item_;
    digest::Hasher hasher_;
    std::unique_ptr<flow::Stream> stream_;
    std::uint64_t bytes_ = 0;
};

std::unique_ptr<flow::Receiver::File> IntoCopy::create(const flow::Item& item) {
    return std::make_unique<Replacing>(*this, item);
}

}  // namespace glassine::journeys
