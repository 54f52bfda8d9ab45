#pragma once

#include <compare>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace glassine {

/// How much a finding weighs.
enum class Severity {
    note,      ///< good to know; changes no verdict
    warning,   ///< discouraged or weaker than it should be; changes no verdict
    blocking,  ///< stops a close-out unless accepted by kind
    damage,    ///< the bag is not what was sealed, or breaks the standard
};

std::string_view word(Severity severity);

/// What all rooms say they found. The words (`word(kind)`) are stable: scripts rely on them.
/// docs/findings.md explains each; a test compares that page with this list.
enum class FindingKind {
    // A bag against its manifests and the standard (RFC 8493).
    payload_altered,
    payload_missing,
    payload_unlisted,
    payload_moved,
    tag_altered,
    tag_missing,
    tag_unlisted,
    tag_malformed,
    declaration_malformed,
    declaration_missing,
    version_unknown,
    encoding_unknown,
    manifest_malformed,
    manifest_missing,
    manifests_disagree,
    manifest_duplicate,
    algorithm_unknown,
    algorithm_weak,
    path_unsafe,
    path_form,
    name_normalised,
    name_collision,
    special_file,
    oxum_mismatch,
    fetch_pending,
    fetch_malformed,
    profile_malformed,
    profile_mismatch,
    archive_malformed,
    archive_limit,
    unreadable,
    slow_read,
    replaced_since_sealed,
    object_exchanged,
    payload_directory_missing,
    standard_discouraged,
    // A job folder before it is closed out.
    image_broken,
    image_not_checkable,
    unstable_source,
    file_empty,
    name_not_portable,
    unsorted_file,
    system_junk,
    unfinished_file,
    reject_without_proxy,
    delivered_without_original,
    original_not_delivered,
    frame_gap,
    clock_mismatch,
    date_mismatch,
    duplicate_content,
    duplicate_name,
    sidecar_orphan,
    location_in_web_image,
    print_too_small,
    web_too_large,
    color_space,
    rights_missing,
    changed_while_reading,
    job_empty,
    originals_missing,
    // The shelf and clearing media.
    not_held,
    held_too_seldom,
    copy_stale,
    volume_cloned,
    volume_unknown,
    copy_lost,
    not_recorded,
    register_new,
    // Recovery.
    recovery_damaged,
    healed,
    beyond_repair,
    quarantined,
    // A folder that was never a bag.
    unmapped,
    checksum_mismatch,
    not_upgraded,
    // Handing out.
    frame_unknown,
    target_exists,
};

/// What the catalogue knows about a kind: its stable word, usual severity and one line of meaning.
struct KindInfo {
    FindingKind kind;
    std::string_view word;
    Severity severity;
    std::string_view meaning;
};

std::span<const KindInfo> finding_kinds();
const KindInfo& info(FindingKind kind);
std::string_view word(FindingKind kind);
std::optional<FindingKind> finding_kind(std::string_view word);

/// One thing found. Findings are results: the program goes on and reports them all.
struct Finding {
    FindingKind kind;
    Severity severity;
    std::string path;    ///< relative to the bag or job, `/` between parts; empty: the whole
    std::string detail;  ///< one sentence for a person, no full stop; names in it are not escaped
    std::optional<std::uint64_t> offset;  ///< first byte concerned
    std::optional<std::uint64_t> length;  ///< bytes concerned

    bool operator==(const Finding&) const = default;
};

/// A finding with the kind's usual severity.
Finding found(FindingKind kind, std::string path, std::string detail);
Finding found(FindingKind kind, Severity severity, std::string path, std::string detail);

/// Worst first, then by path and offset: the order in which people are shown findings.
void sort_findings(std::vector<Finding>& findings);

bool any_at_least(std::span<const Finding> findings, Severity severity);

}  // namespace glassine
