#pragma once

#include "glassine/bagit/check.h"
#include "glassine/journeys/context.h"
#include "glassine/recovery/locator.h"
#include "glassine/recovery/recovery_set.h"
#include "glassine/report/results.h"

#include <memory>
#include <set>
#include <string>
#include <vector>

namespace glassine::journeys {

/// Locates damage while a bag is audited, and says whether the bag's own recovery data can heal it.
class HealingOutlook {
  public:
    /// For a bag folder; a bag without recovery data is taken as well and has no outlook.
    HealingOutlook(const Context& context, const io::Path& bag);

    /// To be handed to the check; empty for a bag without recovery data.
    std::vector<flow::Sink*> sinks();
    /// After the check: tells in the findings where the damage is and what it looks like, and adds
    /// the outlook and what is wrong with the recovery data itself.
    void conclude(bagit::BagReport& report, std::string& outlook);

  private:
    void add_unseen(const std::set<std::string>& wrong, std::vector<recovery::FileDamage>& damages);

    const Context& context_;
    io::Path bag_;
    recovery::RecoverySet set_;
    recovery::Locator locator_;
};

}  // namespace glassine::journeys
