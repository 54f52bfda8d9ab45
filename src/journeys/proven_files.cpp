#include "journeys/proven_files.h"

#include <memory>
#include <utility>

namespace glassine::journeys {

class ProvenFiles::Proving : public flow::Stream {
  public:
    Proving(ProvenFiles& owner, const flow::Item& item, const Proof& proof)
        : owner_(owner), name_(item.name), proof_(proof), hasher_(proof.algorithm) {
        flow::Item renamed = item;
        renamed.name = owner.rename_(item.name);
        file_ = owner.receiver_.create(renamed);
    }

    void block(std::uint64_t, std::span<const std::byte> bytes) override {
        if (!file_) return;
        hasher_.update(bytes);
        file_->append(bytes);
        bytes_ += bytes.size();
    }

    void gap(std::uint64_t, std::uint64_t) override { file_.reset(); }

    void finish(const flow::Outcome& outcome) override {
        const bool proven =
            file_ && outcome.status == flow::Status::whole && hasher_.finish() == proof_.digest;
        if (!proven) return file_.reset();
        file_->keep();
        file_.reset();
        const std::lock_guard lock(owner_.mutex_);
        owner_.kept_.insert(name_);
        owner_.bytes_ += bytes_;
    }

  private:
    ProvenFiles& owner_;
    std::string name_;
    Proof proof_;
    digest::Hasher hasher_;
    std::unique_ptr<flow::Receiver::File> file_;
    std::uint64_t bytes_ = 0;
};

std::unique_ptr<flow::Stream> ProvenFiles::open(const flow::Item& item) {
    const Proof* proof = proofs_.find(item.name);
    if (proof == nullptr || has(item.name)) return nullptr;
    return std::make_unique<Proving>(*this, item, *proof);
}

bool ProvenFiles::has(const std::string& name) const {
    const std::lock_guard lock(mutex_);
    return kept_.contains(name);
}

}  // namespace glassine::journeys
