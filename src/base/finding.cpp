#include "glassine/base/finding.h"

#include <algorithm>
#include <array>
#include <tuple>

namespace glassine {
namespace {

using enum FindingKind;
using enum Severity;

constexpr std::array kinds{
    KindInfo{payload_altered, "payload-altered", damage,
             "A payload file does not have the digest that was sealed."},
    KindInfo{payload_missing, "payload-missing", damage,
             "A payload file that a manifest lists is not there."},
    KindInfo{payload_unlisted, "payload-unlisted", damage,
             "A file under data/ stands in no manifest, or not in all that must list it."},
    KindInfo{payload_moved, "payload-moved", damage,
             "A payload file stands under another name than the one that was sealed."},
    KindInfo{tag_altered, "tag-altered", damage,
             "A tag file does not have the digest that was sealed."},
    KindInfo{tag_missing, "tag-missing", damage,
             "A tag file that a tag manifest lists is not there."},
    KindInfo{tag_unlisted, "tag-unlisted", note,
             "A tag file stands in no tag manifest, so nothing proves it."},
    KindInfo{tag_malformed, "tag-malformed", damage,
             "A tag file breaks the form that the standard asks for."},
    KindInfo{declaration_malformed, "declaration-malformed", damage,
             "bagit.txt is not the two lines that the standard asks for."},
    KindInfo{declaration_missing, "declaration-missing", damage, "There is no bagit.txt."},
    KindInfo{version_unknown, "version-unknown", warning,
             "The bag declares a BagIt version that is not known here; it is judged by the rules "
             "of 1.0."},
    KindInfo{encoding_unknown, "encoding-unknown", damage,
             "The bag declares a character encoding that is not known here."},
    KindInfo{manifest_malformed, "manifest-malformed", damage,
             "A line of a manifest is not a checksum and a path."},
    KindInfo{manifest_missing, "manifest-missing", damage, "There is no payload manifest."},
    KindInfo{manifests_disagree, "manifests-disagree", damage,
             "Two manifests list different sets of files where they must list the same."},
    KindInfo{manifest_duplicate, "manifest-duplicate", damage,
             "A manifest lists a path more than once."},
    KindInfo{algorithm_unknown, "algorithm-unknown", warning,
             "A manifest uses a digest that is not computed here; it was not checked."},
    KindInfo{algorithm_weak, "algorithm-weak", note,
             "A manifest uses a digest that no longer resists forgery (it still finds accidental "
             "damage)."},
    KindInfo{path_unsafe, "path-unsafe", damage,
             "A path leads, or could lead, outside the bag; it was not followed."},
    KindInfo{path_form, "path-form", warning,
             "A path is written in a form that the standard discourages or that checksum tools "
             "leave behind."},
    KindInfo{
        name_normalised, "name-normalised", warning,
        "A name on the disk and the name in the manifest differ only in Unicode normalisation."},
    KindInfo{name_collision, "name-collision", warning,
             "Two names differ only in case or Unicode normalisation and cannot stand side by side "
             "everywhere."},
    KindInfo{special_file, "special-file", damage,
             "A link, device, pipe or socket stands in the bag or job; it was not opened."},
    KindInfo{oxum_mismatch, "oxum-mismatch", damage,
             "Payload-Oxum does not agree with the bytes and files under data/."},
    KindInfo{
        fetch_pending, "fetch-pending", damage,
        "A file is to be fetched from elsewhere before the bag is complete; nothing was fetched."},
    KindInfo{fetch_malformed, "fetch-malformed", damage,
             "A line of fetch.txt is not a URL, a length and a path."},
    KindInfo{profile_malformed, "profile-malformed", damage,
             "The profile itself breaks the rules for profiles."},
    KindInfo{profile_mismatch, "profile-mismatch", damage,
             "The bag does not do what the profile asks for."},
    KindInfo{archive_malformed, "archive-malformed", damage,
             "An archive file cannot be read, or does not hold exactly one bag."},
    KindInfo{archive_limit, "archive-limit", damage,
             "An archive unpacks to more than the bag declares; reading stopped there."},
    KindInfo{unreadable, "unreadable", damage, "The medium would not give these bytes."},
    KindInfo{slow_read, "slow-read", warning,
             "A file could only be read slowly or after several tries: the medium may be failing."},
    KindInfo{replaced_since_sealed, "replaced-since-sealed", damage,
             "The seal is not the one on record: content and manifests were exchanged together."},
    KindInfo{object_exchanged, "object-exchanged", blocking,
             "An object in a store has another checksum of the store than when it was proven."},
    KindInfo{payload_directory_missing, "payload-directory-missing", damage,
             "There is no folder data/."},
    KindInfo{standard_discouraged, "standard-discouraged", warning,
             "The bag does something that the standard allows but advises against."},
    KindInfo{image_broken, "image-broken", blocking,
             "A picture does not decode to its last line, or parts of it lie outside the file."},
    KindInfo{image_not_checkable, "image-not-checkable", note,
             "No library here can tell whether this picture is whole."},
    KindInfo{unstable_source, "unstable-source", blocking,
             "A source file read differently the second time: card reader, cable or memory may be "
             "failing."},
    KindInfo{file_empty, "file-empty", blocking, "A file holds no byte."},
    KindInfo{name_not_portable, "name-not-portable", warning,
             "A name cannot be kept on every file system that shelf drives carry."},
    KindInfo{unsorted_file, "unsorted-file", blocking,
             "A file lies outside the job's sections and would be left behind."},
    KindInfo{system_junk, "system-junk", note,
             "An operating system left this file; it is left out."},
    KindInfo{unfinished_file, "unfinished-file", blocking,
             "A file looks like an unfinished download or a temporary copy."},
    KindInfo{reject_without_proxy, "reject-without-proxy", blocking,
             "A rejected raw has no JPEG and none could be made."},
    KindInfo{delivered_without_original, "delivered-without-original", blocking,
             "A delivered picture has no kept original."},
    KindInfo{original_not_delivered, "original-not-delivered", note,
             "A kept original was never delivered."},
    KindInfo{
        frame_gap, "frame-gap", warning,
        "Numbers are missing in a camera body's counting, over kept and rejected frames together, "
        "or follow no counting."},
    KindInfo{clock_mismatch, "clock-mismatch", warning,
             "The clocks of two camera bodies disagree."},
    KindInfo{date_mismatch, "date-mismatch", warning,
             "The capture times contradict the date given for the job."},
    KindInfo{duplicate_content, "duplicate-content", warning, "Two files hold the same bytes."},
    KindInfo{duplicate_name, "duplicate-name", blocking,
             "Two different frames have the same name."},
    KindInfo{sidecar_orphan, "sidecar-orphan", warning, "A sidecar stands without its raw."},
    KindInfo{location_in_web_image, "location-in-web-image", warning,
             "A web picture still tells the place where it was taken."},
    KindInfo{print_too_small, "print-too-small", warning,
             "A print file has fewer pixels than the studio's smallest print needs."},
    KindInfo{web_too_large, "web-too-large", warning,
             "A web picture is larger than the studio's limit."},
    KindInfo{color_space, "color-space", warning,
             "A picture's colour space or profile is not the one its use asks for."},
    KindInfo{rights_missing, "rights-missing", warning,
             "A delivered picture carries no rights notice."},
    KindInfo{changed_while_reading, "changed-while-reading", blocking,
             "A source file changed while it was read."},
    KindInfo{job_empty, "job-empty", blocking, "The job holds no file to be kept."},
    KindInfo{originals_missing, "originals-missing", blocking, "The job has no kept originals."},
    KindInfo{not_held, "not-held", blocking, "No verified copy of this file is known."},
    KindInfo{held_too_seldom, "held-too-seldom", blocking,
             "Fewer verified copies of this file are known than are asked for."},
    KindInfo{copy_stale, "copy-stale", blocking,
             "A copy of this file was last proven too long ago to count."},
    KindInfo{volume_cloned, "volume-cloned", warning, "Two volumes carry the same identity."},
    KindInfo{volume_unknown, "volume-unknown", note,
             "A copy lies on no volume that has an identity, so that the register cannot keep it."},
    KindInfo{copy_lost, "copy-lost", warning,
             "A bag is not where the register expects it, on a volume that was looked through."},
    KindInfo{not_recorded, "not-recorded", warning,
             "What was done could not be written into the register or a volume's event log."},
    KindInfo{register_new, "register-new", note,
             "The register is a new one: there was none, or the damaged one was put aside."},
    KindInfo{recovery_damaged, "recovery-damaged", damage, "Part of the recovery data is damaged."},
    KindInfo{healed, "healed", note, "A file was damaged and is whole again."},
    KindInfo{beyond_repair, "beyond-repair", damage,
             "A damaged file cannot be healed from what is at hand."},
    KindInfo{quarantined, "quarantined", blocking,
             "A folder keeps the damaged files that were replaced when a bag was mended."},
    KindInfo{unmapped, "unmapped", blocking, "A person has to decide where this belongs."},
    KindInfo{checksum_mismatch, "checksum-mismatch", blocking,
             "A file is not what a checksum list found beside it says."},
    KindInfo{
        not_upgraded, "not-upgraded", warning,
        "A bag was carried as it is and not made anew: it is damaged, or a compressed archive."},
    KindInfo{frame_unknown, "frame-unknown", blocking,
             "No picture in the bag answers to what was asked for."},
    KindInfo{target_exists, "target-exists", blocking,
             "Something else stands already where a file was to be handed out."},
};

int rank(Severity severity) {
    switch (severity) {
        case damage:
            return 0;
        case blocking:
            return 1;
        case warning:
            return 2;
        case note:
            return 3;
    }
    return 4;
}

}  // namespace

std::string_view word(Severity severity) {
    switch (severity) {
        case note:
            return "note";
        case warning:
            return "warning";
        case blocking:
            return "blocking";
        case damage:
            return "damage";
    }
    return "note";
}

std::span<const KindInfo> finding_kinds() {
    return kinds;
}

const KindInfo& info(FindingKind kind) {
    return *std::ranges::find(kinds, kind, &KindInfo::kind);
}

std::string_view word(FindingKind kind) {
    return info(kind).word;
}

std::optional<FindingKind> finding_kind(std::string_view word) {
    const auto* at = std::ranges::find(kinds, word, &KindInfo::word);
    if (at == kinds.end()) return std::nullopt;
    return at->kind;
}

Finding found(FindingKind kind, std::string path, std::string detail) {
    return found(kind, info(kind).severity, std::move(path), std::move(detail));
}

Finding found(FindingKind kind, Severity severity, std::string path, std::string detail) {
    return {kind, severity, std::move(path), std::move(detail), std::nullopt, std::nullopt};
}

void sort_findings(std::vector<Finding>& findings) {
    const auto key = [](const Finding& f) {
        return std::tuple<int, const std::string&, std::uint64_t, FindingKind>(
            rank(f.severity), f.path, f.offset.value_or(0), f.kind);
    };
    std::ranges::stable_sort(findings,
                             [&](const Finding& a, const Finding& b) { return key(a) < key(b); });
}

bool any_at_least(std::span<const Finding> findings, Severity severity) {
    return std::ranges::any_of(
        findings, [&](const Finding& f) { return rank(f.severity) <= rank(severity); });
}

}  // namespace glassine
