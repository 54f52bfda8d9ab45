#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/results.h"
#include "journeys/proven_files.h"

#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::journeys {

/// What `RightBytes::bring` calls the source of a file that was rebuilt.
inline constexpr std::string_view from_recovery_data = "recovery data";

/// Finds the right bytes of files that are damaged in a bag, without touching the bag: in its other
/// copies, then by its recovery data (with blocks of the other copies where these help).
class RightBytes {
  public:
    /// `others`: other copies of the bag, damaged or not.
    RightBytes(const Context& context, io::Path bag, std::vector<io::Path> others)
        : context_(context), bag_(std::move(bag)), others_(std::move(others)) {}

    /// Brings files to `target`, which proves them. Says which arrived and from where; those that
    /// did not are beyond repair with what is at hand. Throws what the target throws.
    std::vector<report::HealedFile> bring(const std::set<std::string>& names, ProvenFiles& target,
                                          const std::vector<flow::Sink*>& further = {});

  private:
    void from_copy(const io::Path& other, const std::set<std::string>& names, ProvenFiles& target,
                   const std::vector<flow::Sink*>& further);
    void from_recovery(const std::set<std::string>& names, ProvenFiles& target);

    const Context& context_;
    io::Path bag_;
    std::vector<io::Path> others_;
};

}  // namespace glassine::journeys
