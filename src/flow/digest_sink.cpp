#include "glassine/flow/digest_sink.h"

#include <utility>

namespace glassine::flow {

class DigestSink::Hashing : public Stream {
  public:
    Hashing(DigestSink& sink, Item item)
        : sink_(sink), item_(std::move(item)), hashers_(sink.algorithms_) {}

    void block(std::uint64_t, std::span<const std::byte> bytes) override { hashers_.update(bytes); }

    void finish(const Outcome& outcome) override {
        if (outcome.status != Status::whole) return;
        const std::vector<digest::Value> values = hashers_.finish();
        const std::lock_guard lock(sink_.mutex_);
        sink_.report_(item_, values);
    }

  private:
    DigestSink& sink_;
    Item item_;
    digest::HasherSet hashers_;
};

DigestSink::DigestSink(std::vector<digest::Algorithm> algorithms, Report report)
    : algorithms_(std::move(algorithms)), report_(std::move(report)) {}

std::unique_ptr<Stream> DigestSink::open(const Item& item) {
    return std::make_unique<Hashing>(*this, item);
}

}  // namespace glassine::flow
