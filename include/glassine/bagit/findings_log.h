#pragma once

#include "glassine/base/finding.h"

#include <cstddef>
#include <cstdint>
#include <map>
#include <mutex>
#include <vector>

namespace glassine::bagit {

/// Collects findings without letting a hostile bag fill the memory: up to a limit all are kept,
/// beyond it they are counted by kind and told as one finding for each kind. Damage keeps half of
/// the room to itself, so that no flood of warnings hides it. May be used from several threads.
class FindingsLog {
  public:
    explicit FindingsLog(std::size_t most = 100'000) : most_(most) {}
    FindingsLog(FindingsLog&& other) noexcept;
    FindingsLog& operator=(FindingsLog&& other) noexcept;

    void add(Finding finding);
    /// Something is wrong that findings alone do not tell: a folder that could not be looked into.
    void mark_incomplete();
    /// All findings, worst first, with one summary for each kind that ran over. Takes them out.
    std::vector<Finding> take_sorted();
    bool any(FindingKind kind) const;
    /// Something speaks against completeness by RFC 8493 §3, conditions 1 to 5.
    bool incomplete() const;
    /// Something leaves a checksum unverified or refuted (condition 7).
    bool unproven() const;

  private:
    struct Overflow {
        std::uint64_t count = 0;
        Severity severity = Severity::note;
    };
    mutable std::mutex mutex_;
    std::size_t most_;
    std::size_t damage_bytes_ = 0;
    std::size_t other_bytes_ = 0;
    std::vector<Finding> kept_;
    std::map<FindingKind, Overflow> overflow_;
    bool incomplete_ = false;
    bool unproven_ = false;
};

}  // namespace glassine::bagit
