#pragma once

#include "glassine/flow/destination.h"
#include "glassine/flow/digest_sink.h"
#include "glassine/flow/handout.h"
#include "glassine/flow/sink.h"
#include "journeys/copies.h"

#include <mutex>
#include <set>
#include <string>

namespace glassine::journeys {

/// Lets a sink see whole files: what cannot be read comes as zeros, so that every byte behind it
/// keeps its place. For sinks that carry damage on as it is.
class ZerosForGaps : public flow::Sink {
  public:
    explicit ZerosForGaps(flow::Sink& target) : target_(target) {}
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override;
    bool one_at_a_time() const override { return target_.one_at_a_time(); }

  private:
    class Filling;
    flow::Sink& target_;
};

/// Writes a copy and keeps the SHA-512 of what was written: two sinks beside one another.
class CopySinks {
  public:
    explicit CopySinks(flow::Destination& destination);

    std::vector<flow::Sink*> sinks() { return {&writer_, &digests_}; }
    /// SHA-512 of every file written, as it was written, by name.
    const Expected& written() const { return written_; }
    /// Another content took the place of what was written.
    void replaced(const std::string& name, const digest::Value& sha512) { written_[name] = sha512; }
    void withdrawn(const std::string& name) { written_.erase(name); }
    /// The failure that one of the sinks had, in words of the destination.
    void rethrow(const flow::Result& result) const;

  private:
    ZerosForGaps writer_;
    Expected written_;
    flow::DigestSink hashing_;
    ZerosForGaps digests_;
};

/// Takes right bytes for files that were written damaged: the damaged one is withdrawn.
class IntoCopy : public flow::Receiver {
  public:
    IntoCopy(flow::Destination& destination, CopySinks& copy)
        : destination_(destination), copy_(copy) {}
    std::unique_ptr<File> create(const flow::Item& item) override;

  private:
    class Replacing;
    flow::Destination& destination_;
    CopySinks& copy_;
    std::mutex mutex_;
};

}  // namespace glassine::journeys
