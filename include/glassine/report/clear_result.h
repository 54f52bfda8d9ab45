#pragma once

#include "glassine/report/results.h"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace glassine::report {

/// Whether a medium may be wiped.
struct ClearResult : Common {
    std::string path;
    bool clear = false;
    std::uint64_t files = 0;
    std::uint64_t bytes = 0;
    std::uint64_t held = 0;  ///< files that may go
    unsigned copies = 0;     ///< that were asked for, on different volumes
    /// SHA-512 of the list "digest, two blanks, path, line feed" by path: what was judged.
    std::string list_sha512;
    std::vector<std::string> weaknesses;  ///< sentences: why copies are weaker than their number
    /// The jobs that hold what may go: how many of the files, and until when each job is kept.
    struct Job {
        std::string bag;
        std::uint64_t files = 0;
        std::optional<Date> promised_until;  ///< to the client; nothing: not known, or for good
        std::optional<Date> keep_until;      ///< by the studio
    };
    std::vector<Job> jobs;  ///< by bag name
    std::string signed_by;  ///< who signed the clearance; empty when nobody did
    std::vector<Finding> findings;
};

std::string to_json(const ClearResult& result);

struct TerminalStyle;
std::string to_text(const ClearResult& result, const TerminalStyle& style);

}  // namespace glassine::report
