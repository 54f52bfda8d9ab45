#include "shelf/seals.h"

#include <algorithm>

namespace glassine::shelf {

namespace {

using Rank = SealWitness::Rank;

}  // namespace

SealWitness::Rank seal_rank(std::string_view type) {
    namespace t = event_type;
    for (const std::string_view giving :
         {t::ingestion, t::accession, t::information_package_creation,
          t::message_digest_calculation}) {
        if (type == giving) return Rank::given;
    }
    return type == t::replication || type == t::refreshment ? Rank::carried : Rank::seen;
}

std::optional<bool> is_accepted(std::span<const SealWitness> witnesses, std::string_view seal) {
    Rank best = Rank::seen;
    for (const SealWitness& witness : witnesses)
        best = std::max(best, witness.rank);
    if (best == Rank::seen) return std::nullopt;

    std::optional<Timestamp> first_given;
    for (const SealWitness& witness : witnesses) {
        if (witness.rank != best) continue;
        if (witness.seal == seal) return true;
        if (!first_given || *witness.first < *first_given) first_given = witness.first;
    }
    // Seen before the bag was given another seal: an old bag from before this program's time.
    return std::any_of(witnesses.begin(), witnesses.end(), [&](const SealWitness& witness) {
        return witness.seal == seal && witness.first && *witness.first < *first_given;
    });
}

SealVerdict judge_seal(std::span<const SealWitness> witnesses, std::string_view seal,
                       std::string_view volume) {
    if (witnesses.empty()) return SealVerdict::unknown;
    if (const auto accepted = is_accepted(witnesses, seal)) {
        return *accepted ? SealVerdict::as_sealed : SealVerdict::replaced;
    }
    bool here = false;
    bool other = false;
    for (const SealWitness& witness : witnesses) {
        if (witness.volume == volume) {
            if (witness.seal == seal) return SealVerdict::as_sealed;
            here = true;
        } else if (witness.seal != seal) {
            other = true;
        }
    }
    if (here) return SealVerdict::replaced;
    return other ? SealVerdict::disputed : SealVerdict::as_sealed;
}

}  // namespace glassine::shelf
