#pragma once

#include "glassine/base/time.h"

#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// What was done, when, by whom, to what, and how it ended: the semantic units of PREMIS 3.0 §2
/// (Event), one JSON object a line. The same line stands in a bag's events.jsonl, in the event log
/// at a volume's root and in the register, so each can be rebuilt from the others.
namespace glassine::shelf {

/// The event types that Glassine records: labels of the PREMIS Event Type vocabulary
/// (id.loc.gov/vocabulary/preservation/eventType). The list is open: a type read from a line may be
/// any.
namespace event_type {
inline constexpr std::string_view accession = "accession";
inline constexpr std::string_view creation = "creation";
inline constexpr std::string_view deaccession = "deaccession";
inline constexpr std::string_view deletion = "deletion";
inline constexpr std::string_view dissemination = "dissemination";
inline constexpr std::string_view fixity_check = "fixity check";
inline constexpr std::string_view format_identification = "format identification";
inline constexpr std::string_view information_package_creation = "information package creation";
inline constexpr std::string_view ingestion = "ingestion";
inline constexpr std::string_view message_digest_calculation = "message digest calculation";
inline constexpr std::string_view metadata_extraction = "metadata extraction";
inline constexpr std::string_view metadata_modification = "metadata modification";
inline constexpr std::string_view packing = "packing";
inline constexpr std::string_view policy_assignment = "policy assignment";
inline constexpr std::string_view recovery = "recovery";
inline constexpr std::string_view redaction = "redaction";
inline constexpr std::string_view refreshment = "refreshment";
inline constexpr std::string_view replication = "replication";
inline constexpr std::string_view unpacking = "unpacking";
inline constexpr std::string_view validation = "validation";
}  // namespace event_type

/// One term of the published vocabulary: its label and three-letter code (for exchange).
struct EventTerm {
    std::string_view label;
    std::string_view code;
};
/// All 50 terms of the vocabulary (state of 2018-09-24), by label.
std::span<const EventTerm> event_terms();

/// How an event ended (PREMIS 2.5.1). For a fixity check: `success`: every file of the bag was read
/// and is what was sealed; `failure`: at least one is not; `partial`: not everything was looked at,
/// so it proves nothing and accuses nothing.
enum class Outcome { none, success, partial, failure };
/// "success", "partial success", "failure"; empty for `none`.
std::string_view word(Outcome outcome);

/// A link to an agent or an object (PREMIS 2.6, 2.7).
struct Link {
    std::string type;  ///< agents: "software", "person"; objects: see `object_type`
    std::string value;
    std::string role;  ///< agents: "executing program", "implementer"; objects: "source",
                       ///< "outcome"; may be empty
    bool operator==(const Link&) const = default;
};

/// What an event can be about. An event about one copy names the bag and the volume it lies on.
namespace object_type {
inline constexpr std::string_view bag = "bag name";
inline constexpr std::string_view seal = "bag seal";  ///< hex SHA-512 of tagmanifest-sha512.txt
inline constexpr std::string_view volume =
    "volume id";                                  ///< of the volume's identity file, or its address
inline constexpr std::string_view path = "path";  ///< below the volume's root
inline constexpr std::string_view file = "file";  ///< below the bag's root
/// Of the one file that the copy is packed into (RFC 6838); a copy that is a folder has none.
inline constexpr std::string_view media_type = "media type";
}  // namespace object_type

/// Figures that later work reads again (PREMIS 2.4.2, eventDetailExtension): keys of
/// `detail_extension`.
namespace figure {
inline constexpr std::string_view bytes = "bytes";      ///< read from the medium, a whole number
inline constexpr std::string_view seconds = "seconds";  ///< that this took, a decimal number
inline constexpr std::string_view list_digest = "list sha512";  ///< of a clearance's list, hex
/// A `policy assignment` about a bag: dates that replace what the studio file would give.
inline constexpr std::string_view promised_until = "promised until";  ///< YYYY-MM-DD
inline constexpr std::string_view keep_until = "keep until";          ///< YYYY-MM-DD
}  // namespace figure

/// One event. Times are kept to the microsecond, in UTC, so that what was done within one second
/// keeps its order.
struct Event {
    std::string id;    ///< a UUID (RFC 4122), lower case: an event read twice is one event
    std::string type;  ///< a label of the vocabulary
    Timestamp time;
    std::string detail;                                   ///< for people
    std::map<std::string, std::string> detail_extension;  ///< for programs: see `figure`
    Outcome outcome = Outcome::none;
    std::vector<std::string>
        outcome_detail;  ///< notes: errors, warnings, anomalies, files concerned
    std::vector<Link> agents;
    std::vector<Link> objects;

    bool operator==(const Event&) const = default;

    /// The first object of that type; empty if there is none.
    std::string_view object(std::string_view object_type) const;
    Event& with_object(std::string_view object_type, std::string value, std::string_view role = {});
    Event& with_figure(std::string_view key, std::string value);
    /// The figure under that key; empty if there is none.
    std::string_view figure(std::string_view key) const;
    Event& with_agent(std::string_view agent_type, std::string value, std::string_view role = {});
};

/// RFC 3339 in UTC, with six decimals where the moment is no whole second.
std::string event_time(Timestamp moment);
/// RFC 3339, cut to the microsecond; nothing if it is not, or outside the years 1700 to 2250.
std::optional<Timestamp> parse_event_time(std::string_view text);

/// A random (version 4) UUID.
std::string random_uuid();

/// An event with a new id, `time` cut to the microsecond, and this program as its executing agent.
Event new_event(std::string_view type, Timestamp time, Outcome outcome = Outcome::success,
                std::string detail = {});

/// One line without the line break. Text that is not UTF-8 has U+FFFD for its ill-formed bytes.
/// Keys whose value is empty are left out, except `id`, `type` and `time`.
std::string to_json_line(const Event& event);
/// As many lines as events, each ended by a line feed: the content of an events.jsonl.
std::string to_json_lines(std::span<const Event> events);

/// Reads one line. Keys it does not know are passed over; nothing if it is no event, and `why` (if
/// given) says why.
std::optional<Event> parse_event(std::string_view line, std::string* why = nullptr);

/// What a file of event lines holds.
struct EventLines {
    std::vector<Event> events;
    /// "line 12: …": lines that are no events. Blank lines are passed over.
    std::vector<std::string> problems;
    /// The last line has no line feed and is no event: the writer was interrupted. Not counted as a
    /// problem.
    bool torn = false;
};
EventLines parse_event_lines(std::string_view content);

}  // namespace glassine::shelf
