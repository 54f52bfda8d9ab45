#pragma once

#include <cstdint>
#include <optional>

namespace glassine::journeys {

/// How much an audit may read. Files are taken in their order, and the first that does not fit ends
/// it: next time it comes first. The very first is taken whatever its size, so that every audit
/// gets further.
class ByteBudget {
  public:
    /// Nothing: no limit.
    explicit ByteBudget(std::optional<std::uint64_t> bytes) : left_(bytes) {}

    bool limits() const { return left_.has_value(); }

    /// Whether a file of that size may be read; then it counts as read.
    bool take(std::uint64_t size) {
        if (!left_) return true;
        if (spent_ || (size > *left_ && taken_)) {
            spent_ = true;
            return false;
        }
        taken_ = taken_ || size > 0;
        *left_ -= size > *left_ ? *left_ : size;
        spent_ = *left_ == 0;
        return true;
    }
    bool is_spent() const { return spent_; }

  private:
    std::optional<std::uint64_t> left_;
    bool taken_ = false;
    bool spent_ = false;
};

}  // namespace glassine::journeys
