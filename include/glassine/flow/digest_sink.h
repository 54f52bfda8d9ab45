#pragma once

#include "glassine/digest/digest.h"
#include "glassine/flow/sink.h"

#include <functional>
#include <memory>
#include <mutex>
#include <vector>

namespace glassine::flow {

/// Computes digests of every file. Several DigestSinks beside one another use several cores on one
/// file; several algorithms in one sink share the block while it is in the cache.
class DigestSink : public Sink {
  public:
    /// Called for each file read whole, one call at a time, from changing threads; values in the
    /// order of the algorithms. Files with gaps, vanished or changed ones have no digest and are
    /// not reported here.
    using Report = std::function<void(const Item&, const std::vector<digest::Value>&)>;

    DigestSink(std::vector<digest::Algorithm> algorithms, Report report);
    std::unique_ptr<Stream> open(const Item& item) override;

  private:
    class Hashing;
    std::vector<digest::Algorithm> algorithms_;
    Report report_;
    std::mutex mutex_;
};

}  // namespace glassine::flow
