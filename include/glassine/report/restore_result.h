#pragma once

#include "glassine/report/results.h"
#include "glassine/report/terminal.h"
#include "glassine/shelf/facts.h"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace glassine::report {

/// A copy of a job that was looked for by words.
struct FoundCopy {
    std::string label;  ///< of its volume
    std::string place;  ///< of its volume; may be empty
    shelf::CopyState state = shelf::CopyState::unproven;
    std::optional<Timestamp> proven;  ///< the last time that it was found whole
    std::string path;                 ///< the bag's folder; empty while its volume is not connected
};

/// A job that was looked for by words.
struct FoundJob {
    std::string bag;
    std::vector<std::string> clients;
    std::uint64_t files = 0;
    std::uint64_t bytes = 0;
    std::vector<std::string> frames;  ///< that the words name
    std::vector<FoundCopy> copies;    ///< the best first
};

/// Pictures handed out of a bag.
struct RestoreResult : Common {
    std::string words;  ///< that the job was looked for by; empty when its path was named
    /// Jobs that the words may mean. Several: nothing was handed out, one is to be chosen. One:
    /// what was handed out, or, when none of its copies is connected, what is to be fetched.
    std::vector<FoundJob> jobs;
    bool by_frames = false;  ///< only some frames were asked for
    std::string bag_name;
    std::string from;                  ///< the bag that was read
    std::string target;                ///< the folder or ZIP file, as it was named
    std::vector<std::string> written;  ///< the folder, or the ZIP files that were made
    std::uint64_t files = 0;           ///< handed out
    std::uint64_t bytes = 0;
    std::uint64_t there_already = 0;  ///< files that stood at the target already, proven the same
    std::vector<SectionCount> sections;  ///< of what was handed out or was there already
    bool gallery = false;
    /// Files that are damaged in the bag that was read, and where their right bytes came from.
    std::vector<HealedFile> healed;
    std::vector<Finding> findings;
};

std::string to_text(const RestoreResult& result, const TerminalStyle& style);
std::string to_json(const RestoreResult& result);

}  // namespace glassine::report
