#pragma once

#include "glassine/flow/digest_sink.h"
#include "glassine/recovery/encoder.h"
#include "journeys/bag_making.h"
#include "journeys/copies.h"

#include <functional>
#include <memory>
#include <span>
#include <vector>

namespace glassine::journeys {

/// Recovery data for a bag in the making: fed by the same read as everything else, written to every
/// copy.
class RecoveryMaking {
  public:
    /// `payload`: what will come through `sink`. `percent`: whole percent of the covered bytes, 1
    /// to 100.
    RecoveryMaking(unsigned percent, std::vector<recovery::FileSize> payload, Copies& copies,
                   BagMaking& bag);

    flow::Sink& sink() { return encoder_; }
    /// Names of the files to be read together, one set after the other.
    std::vector<std::vector<std::string_view>> reading_sets() const {
        return encoder_.reading_sets();
    }
    /// After everything but the tag manifest is written: covers the small files too and ends the
    /// recovery files, which become tag files of the bag.
    void finish();

    /// Bytes of recovery data to expect for a payload, generously.
    static std::uint64_t expected_bytes(unsigned percent, std::uint64_t payload_bytes);

  private:
    BagMaking& bag_;
    flow::DigestSink digests_;
    recovery::Encoder encoder_;
};

/// Hands to `read` what is to be read together, set after set, as long as it returns true:
/// everything at once, but for payloads so large that their recovery data is made window by window.
/// Files that are not covered go with the last set. `making` may be nullptr.
void read_in_sets(const RecoveryMaking* making, std::span<const flow::Item> items,
                  const std::function<bool(std::span<const flow::Item>)>& read);

}  // namespace glassine::journeys
