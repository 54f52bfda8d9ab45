#pragma once

#include "glassine/base/finding.h"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace glassine::bagit {

/// What a broken rule costs: nothing, a note, a warning, or the bag's validity (`damage`).
using Weight = std::optional<Severity>;

/// The rules of one BagIt version. Every bag is judged by the version that it declares; where
/// several drafts carried the same number, what any of them allowed is accepted and the stricter
/// one is mentioned in a note.
///
/// Sources: RFC 8493 for 1.0; draft-kunze-bagit-00 (0.93), -01 (0.94), -02 (0.95), -03 to -05
/// (0.96), -06 to -14 (0.97). docs/bagit-decisions.md tells what was decided where the texts are
/// silent.
struct Rules {
    std::string_view version;  ///< "0.93" to "0.97", "1.0"

    /// LF, CR and % in paths are percent-encoded (8493 §2.1.3-10); before 1.0 a `%` is a `%`.
    bool percent_encoded_paths;
    /// A checksum may be written in base64 (0.93 asked for it and showed hex).
    bool base64_checksums;
    /// `*` before a path, as checksum tools write it.
    Weight star_marker;
    /// `\` between the parts of a path ("`/` only" came with 0.96).
    Weight backslash_separator;
    /// In fetch.txt a leading `/` means the bag (0.96 and 0.97).
    bool fetch_leading_slash;

    /// Every payload manifest lists every payload file (0.93, 0.94, 1.0); else at least one does.
    bool every_manifest_lists_all;
    /// The same path listed twice in a manifest with the same checksum (8493 §2.1.3-2).
    Weight listed_twice;
    /// Two manifests of one kind and algorithm.
    Weight algorithm_twice;
    /// A payload manifest that lists a file outside data/.
    Weight tag_file_in_payload_manifest;
    /// A tag manifest that lists a file under data/ (8493 §2.2.1-7) or a tag manifest (§2.2.1-3).
    Weight foreign_in_tag_manifest;
    /// A tag manifest that does not list every payload manifest (8493 §2.2.1-2).
    Weight payload_manifest_unproven;
    /// Another tag file that a tag manifest leaves out (8493 §2.2.1-4).
    Weight tag_file_unproven;
    /// An empty line in a manifest or in fetch.txt.
    Weight empty_line;
    /// A file `NAME.ALGORITHM` holds the checksum of tag file NAME (0.93 and 0.94).
    bool checksum_companions;

    /// "package-info.txt" up to 0.95, then "bag-info.txt".
    std::string_view metadata_file;
    /// Blanks around the colon belong to neither label nor value (8493 §2.2.2-7); else exactly one
    /// blank follows.
    bool loose_colon;
    /// An element that occurs twice (allowed from 0.97 on).
    Weight repeated_element;
    /// Bagging-Date, Bag-Size, Bag-Group-Identifier or Bag-Count twice (8493 §2.2.2-12).
    Weight repeated_single_element;
    /// Payload-Oxum has a meaning (from 0.96).
    bool has_oxum;

    /// Deviations of bagit.txt from its two lines.
    Weight declaration_form;
    /// A byte order mark in bagit.txt.
    Weight declaration_mark;
    /// A byte order mark where the declared encoding does not need one.
    Weight needless_mark;
    /// Folders beside data/.
    Weight tag_directory;
    /// A tag file whose name does not end in .txt (0.96 in its last draft).
    Weight tag_name_not_txt;
    /// "manifest-SHA-512.txt": a manifest's name that is not normalised (8493 §2.4-3).
    Weight manifest_name_form;
    /// A file of fetch.txt that is not in every payload manifest (8493 §2.2.3-3).
    Weight fetched_unlisted;
    /// Only MD5 or SHA-1 manifests.
    Weight weak_only;
};

/// The rules for a declared version; for one that is not known, the rules by which the bag is
/// judged as far as they go: those of 1.0 for later ones and for what is no version at all, of 0.93
/// for earlier ones, of 0.97 for those between.
const Rules& rules_for(std::string_view declared_version);
bool known_version(std::string_view declared_version);
/// Digits, a dot, digits.
bool is_version(std::string_view text);

}  // namespace glassine::bagit
