#pragma once

#include "glassine/bagit/check.h"
#include "glassine/flow/digest_sink.h"
#include "glassine/flow/sink.h"
#include "glassine/job/folder_name.h"
#include "glassine/job/layout.h"
#include "journeys/source_tree.h"

#include <memory>
#include <string>
#include <vector>

namespace glassine::journeys {

inline constexpr std::string_view previous_folder = "previous/";

/// Judges a bag by its own manifests while somebody else reads it: names are those in the bag, for
/// tag files also behind `previous_folder`.
class OldManifests : public flow::Sink {
  public:
    explicit OldManifests(bagit::Verdict& verdict);
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override;

  private:
    class Judging;
    bagit::Verdict& verdict_;
};

/// The payload of a bag as if it were a job: sections by what its folders are called, everything
/// else among the originals. Only for the photo index.
job::Layout payload_as_job(const SourceTree& tree, const job::AdoptRules& rules);

/// The tag files, to be written below `previous_folder`.
std::vector<flow::Item> previous_tag_files(const SourceTree& tree);

}  // namespace glassine::journeys
