#pragma once

#include "glassine/journeys/context.h"
#include "glassine/shelf/clearance.h"
#include "glassine/shelf/facts.h"

#include <map>
#include <string>
#include <vector>

namespace glassine::journeys {

/// The tag files of bags that stand on a medium to be cleared: the register lists payload only, but
/// a copy of the same bag with the same seal holds every tag file that the tag manifest lists, and
/// the tag manifest itself.
class SealedTags : public shelf::Holdings {
  public:
    /// Looks for bags at or below `folder`.
    SealedTags(const Context& context, const io::Path& folder, const shelf::Facts& facts);
    std::vector<shelf::Held> find(const digest::Value& content) override;

  private:
    void add(const Context& context, const io::Path& bag, const shelf::Facts& facts);

    std::map<std::string, std::vector<shelf::Held>> held_;  ///< by the digest in hex
};

}  // namespace glassine::journeys
