#pragma once

#include "glassine/bagit/manifest.h"
#include "glassine/digest/digest.h"
#include "glassine/recovery/layout.h"
#include "journeys/copies.h"

#include <map>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::journeys {

/// Keeps the books of a bag while it is made in one or more places: what is payload, what is a tag
/// file, and the digest of each. May be used from several threads.
class BagMaking {
  public:
    explicit BagMaking(Copies& copies) : copies_(copies) {}

    /// A payload file that came through the copies' sinks.
    void payload_written(const std::string& name, const digest::Value& sha512);
    /// A payload file made on the way: written to every copy.
    void add_payload(const std::string& name, std::string_view content);
    /// A tag file that came through the copies' sinks.
    void tag_written(const std::string& name, const digest::Value& sha512);
    /// A tag file: written to every copy.
    void add_tag(const std::string& name, std::string_view content);

    /// The text of the payload manifest for what was added so far.
    std::string payload_manifest() const;
    /// Writes it: no payload comes after this.
    void write_payload_manifest();
    /// What was written here and is small: with bagit.txt, the files that recovery data of tag
    /// files covers.
    std::vector<recovery::FileSize> small_files() const;
    /// One of them, proven by its digest.
    std::string small_file(const std::string& name);

    /// Writes the tag manifest and, last, bagit.txt: a folder without it is no bag. Gives the bag's
    /// seal, the SHA-512 of the tag manifest in hex.
    std::string close();
    /// As `close`, for a bag whose tag files were all copied from a standing one.
    std::string close_with(const std::string& tag_manifest);

    /// All that every copy must hold.
    const Expected& expected() const { return expected_; }

  private:
    void write(const std::string& name, std::string_view content);

    Copies& copies_;
    mutable std::mutex mutex_;
    std::vector<bagit::ManifestLine> payload_;
    std::vector<bagit::ManifestLine> tags_;
    std::map<std::string, std::uint64_t> small_;  ///< sizes by name
    Expected expected_;
};

}  // namespace glassine::journeys
