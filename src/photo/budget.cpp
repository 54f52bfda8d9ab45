#include "photo/budget.h"

namespace glassine::photo {

void Budget::Lease::release() {
    if (budget_ == nullptr) return;
    {
        const std::lock_guard lock(budget_->mutex_);
        budget_->*part_ -= bytes_;
    }
    budget_->changed_.notify_all();
    budget_ = nullptr;
}

bool Budget::room_to_keep(std::size_t bytes) const {
    const bool room = kept_ + bytes <= limit_ / 2 && kept_ + decoding_ + bytes <= limit_;
    const bool alone = kept_ == 0 && decoding_ == 0;
    return room || alone;
}

std::optional<Budget::Lease> Budget::try_keep(std::size_t bytes) {
    const std::lock_guard lock(mutex_);
    if (!room_to_keep(bytes)) return std::nullopt;
    kept_ += bytes;
    return Lease(this, &Budget::kept_, bytes);
}

Budget::Lease Budget::keep(std::size_t bytes) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return room_to_keep(bytes); });
    kept_ += bytes;
    return Lease(this, &Budget::kept_, bytes);
}

Budget::Lease Budget::decode(std::size_t bytes) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return decoding_ == 0 || kept_ + decoding_ + bytes <= limit_; });
    decoding_ += bytes;
    return Lease(this, &Budget::decoding_, bytes);
}

}  // namespace glassine::photo
