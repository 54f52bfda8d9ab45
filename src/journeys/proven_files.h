#pragma once

#include "glassine/flow/handout.h"
#include "glassine/flow/sink.h"
#include "journeys/mend_proofs.h"

#include <cstdint>
#include <functional>
#include <mutex>
#include <set>
#include <string>

namespace glassine::journeys {

/// Hands files on to a receiver and lets it keep those that are what a manifest says; of all others
/// it keeps nothing. Bytes and digest come from the same read.
class ProvenFiles : public flow::Sink {
  public:
    /// The name that the receiver gets for a file of the bag.
    using Rename = std::function<std::string(const std::string& name)>;

    ProvenFiles(flow::Receiver& receiver, const Proofs& proofs, Rename rename)
        : receiver_(receiver), proofs_(proofs), rename_(std::move(rename)) {}

    /// nullptr for what no manifest lists and what was kept already.
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override;

    bool has(const std::string& name) const;
    std::uint64_t files() const { return kept_.size(); }
    std::uint64_t bytes() const { return bytes_; }

  private:
    class Proving;

    flow::Receiver& receiver_;
    const Proofs& proofs_;
    Rename rename_;
    mutable std::mutex mutex_;
    std::set<std::string> kept_;
    std::uint64_t bytes_ = 0;
};

}  // namespace glassine::journeys
