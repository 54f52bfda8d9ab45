#pragma once

#include "glassine/base/finding.h"
#include "glassine/flow/sink.h"

#include <cstddef>
#include <functional>
#include <string>
#include <vector>

namespace glassine::bagit {

/// Notices files that read far slower than the others of the same run, or only after several tries:
/// often the first sign of a failing medium. Memory does not grow with the number of files. One
/// call at a time.
class SlowReads {
  public:
    void met(const std::string& name, const flow::Outcome& outcome);
    void tell(const std::function<void(Finding)>& report) const;

  private:
    struct Read {
        std::string name;
        double rate;  ///< bytes a second
        std::uint32_t retries;
    };
    std::vector<double> rates_;  ///< a sample of all
    std::size_t count_ = 0;
    std::vector<Read> slowest_;  ///< ascending by rate
    std::vector<Read> retried_;
};

}  // namespace glassine::bagit
