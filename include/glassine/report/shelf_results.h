#pragma once

#include "glassine/report/results.h"
#include "glassine/shelf/due.h"
#include "glassine/shelf/facts.h"
#include "glassine/shelf/policy.h"
#include "glassine/shelf/search.h"
#include "glassine/shelf/standing.h"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

/// What the commands of the shelf have to say.
namespace glassine::report {

/// A volume that was given an identity, or changed details of one.
struct ShelfAddResult : Common {
    shelf::VolumeIdentity volume;
    std::string root;
    std::vector<Finding> findings;
};

/// All that the register knows, judged by the studio's policy on one day: the whole shelf for a
/// list, a page or a label. Standings are by the index of their bag in `facts.bags`.
struct ShelfOverview : Common {
    std::string register_file;
    Date today{};
    shelf::Policy policy;
    shelf::Facts facts;
    std::vector<shelf::Standing> standings;
    std::vector<shelf::DueItem> due;  ///< most urgent first
    std::vector<Finding> findings;
};

struct ShelfDueResult : Common {
    Date today{};
    std::vector<shelf::DueItem> items;
    shelf::Facts facts;  ///< for the volumes' names
};

struct ShelfFindResult : Common {
    struct Hit {
        shelf::SearchHit found;
        shelf::Standing standing;
    };
    std::string words;
    std::vector<Hit> hits;
    std::vector<shelf::VolumeFacts> volumes;  ///< of the copies
};

/// A volume that was looked through.
struct ScannedVolume {
    shelf::VolumeIdentity volume;
    std::string root;
    std::uint64_t bags = 0;        ///< that stand where was looked
    std::uint64_t events = 0;      ///< in its log and its bags
    std::uint64_t new_events = 0;  ///< of them not known to the register before
};

struct ShelfScanResult : Common {
    std::vector<ScannedVolume> volumes;
    std::string set_aside;  ///< where the damaged register is now; empty when it was sound
    std::vector<Finding> findings;
};

/// A volume that was taken out of service.
struct ShelfRetireResult : Common {
    shelf::VolumeIdentity volume;
    std::vector<std::string> bags;  ///< that had a copy on it
    std::vector<Finding> findings;
};

/// A job was given dates of its own.
struct ShelfDatesResult : Common {
    std::string bag;
    std::optional<Date> promised_until;  ///< as it is now; nothing: not known, or for good
    std::optional<Date> keep_until;
    std::vector<std::string> volumes;  ///< names of those in whose log it stands
    std::vector<Finding> findings;
};

std::string to_json(const ShelfAddResult& result);
std::string to_json(const ShelfOverview& result);
std::string to_json(const ShelfDueResult& result);
std::string to_json(const ShelfFindResult& result);
std::string to_json(const ShelfScanResult& result);
std::string to_json(const ShelfRetireResult& result);
std::string to_json(const ShelfDatesResult& result);

struct TerminalStyle;
std::string to_text(const ShelfAddResult& result, const TerminalStyle& style);
std::string to_text(const ShelfOverview& result, const TerminalStyle& style);
std::string to_text(const ShelfDueResult& result, const TerminalStyle& style);
std::string to_text(const ShelfFindResult& result, const TerminalStyle& style);
std::string to_text(const ShelfScanResult& result, const TerminalStyle& style);
std::string to_text(const ShelfRetireResult& result, const TerminalStyle& style);
std::string to_text(const ShelfDatesResult& result, const TerminalStyle& style);

}  // namespace glassine::report
