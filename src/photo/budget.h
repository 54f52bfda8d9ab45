#pragma once

#include <condition_variable>
#include <cstddef>
#include <mutex>
#include <optional>
#include <utility>

namespace glassine::photo {

/// One amount of memory for many pictures that are looked at side by side.
///
/// Keeping a file never waits: the threads of the river would then wait for bytes that only they
/// can bring. Decoding may wait, because who decodes needs nothing but time; so that this stays
/// true, nobody asks for a second decoding lease while holding one.
class Budget {
  public:
    /// Files are kept in half of `limit`; decoding may take what is left of all.
    explicit Budget(std::size_t limit) : limit_(limit) {}
    Budget(const Budget&) = delete;
    Budget& operator=(const Budget&) = delete;

    class Lease {
      public:
        Lease() = default;
        Lease(Lease&& other) noexcept
            : budget_(std::exchange(other.budget_, nullptr)),
              part_(other.part_),
              bytes_(other.bytes_) {}
        Lease& operator=(Lease&& other) noexcept {
            std::swap(budget_, other.budget_);
            std::swap(part_, other.part_);
            std::swap(bytes_, other.bytes_);
            return *this;
        }
        ~Lease() { release(); }
        void release();

      private:
        friend class Budget;
        Lease(Budget* budget, std::size_t Budget::*part, std::size_t bytes)
            : budget_(budget), part_(part), bytes_(bytes) {}
        Budget* budget_ = nullptr;
        std::size_t Budget::*part_ = nullptr;
        std::size_t bytes_ = 0;
    };

    /// Nothing when there is no room just now. A file larger than the half is kept when
    /// nothing else is and nobody decodes.
    std::optional<Lease> try_keep(std::size_t bytes);
    /// As `try_keep`, but waits. Only for threads that the river does not need.
    Lease keep(std::size_t bytes);
    /// Waits for room, or until nobody else decodes.
    Lease decode(std::size_t bytes);

  private:
    bool room_to_keep(std::size_t bytes) const;

    std::mutex mutex_;
    std::condition_variable changed_;
    std::size_t limit_;
    std::size_t kept_ = 0;
    std::size_t decoding_ = 0;
};

/// A lease from a budget, or a free one where there is no budget.
inline Budget::Lease lease(Budget* budget, std::uint64_t bytes) {
    return budget == nullptr ? Budget::Lease() : budget->decode(bytes);
}

}  // namespace glassine::photo
