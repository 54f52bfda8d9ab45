#pragma once

#include "glassine/bagit/bag_info.h"
#include "glassine/bagit/manifest.h"
#include "glassine/journeys/closeout.h"
#include "glassine/shelf/event.h"

#include <string>
#include <utility>
#include <vector>

namespace glassine::journeys {

/// A tag file that is to be written.
struct TagFile {
    std::string name;
    std::string content;
};

/// What bag-info.txt says of a job.
struct JobFacts {
    std::vector<report::SectionCount> sections;
    std::uint64_t payload_bytes = 0;
    std::uint64_t payload_files = 0;
    Date bagging_date{};
};
std::vector<bagit::Element> bag_info_elements(const job::Studio& studio,
                                              const CloseoutRequest& request,
                                              const JobFacts& facts);

/// HOW-TO-VERIFY.txt: how to check this bag with a plain checksum tool, in plain words.
std::string how_to_verify(const std::string& bag_name, std::uint64_t payload_files);

}  // namespace glassine::journeys
