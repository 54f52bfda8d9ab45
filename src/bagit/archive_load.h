#pragma once

#include "archive_members.h"
#include "archive_pass.h"
#include "glassine/bagit/archive.h"

#include <atomic>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace glassine::bagit {

/// Digests of the members of a packed archive, of each in several algorithms, until it is known
/// what they are compared with. About as many bytes as the digests have.
class DigestStore {
  public:
    using Ordinal = ArchiveMembers::Ordinal;
    void keep(digest::Algorithm algorithm, Ordinal member, const digest::Value& value);
    std::optional<digest::Value> find(digest::Algorithm algorithm, Ordinal member) const;

  private:
    struct Column {
        explicit Column(std::size_t width) : rows(width) {}
        ChunkedBytes rows;
        std::vector<std::uint32_t> row_of;  ///< 1 + row, by member; 0: none
    };
    std::map<digest::Algorithm, Column> columns_;
    std::mutex mutex_;
};

/// What is known of an archive once it was looked through.
struct LoadedArchive {
    ArchiveContents contents;
    std::vector<ArchiveMembers::Ordinal> member_of;       ///< by listing index
    std::map<ArchiveMembers::Ordinal, std::string> tags;  ///< content of standard tag files
    DigestStore digests;
    std::map<ArchiveMembers::Ordinal, flow::Outcome> bad;  ///< members not read whole
    flow::Result reading;
    bool stopped = false;
};

/// Looks through the headers of an archive, leaping over the content. Nothing when something is
/// compressed, so that leaping is no use; then `load_packed` is the way.
std::unique_ptr<LoadedArchive> load_plain(io::FileSystem& files, const io::Path& path,
                                          const flow::Options& flow, const ArchiveLimits& limits);

/// Reads an archive from end to end: lists it, keeps what is in its tag files and, if asked for,
/// computes the digests that its manifests may give.
std::unique_ptr<LoadedArchive> load_packed(io::FileSystem& files, const io::Path& path,
                                           bool digests, std::span<flow::Sink* const> further,
                                           const flow::Options& flow, const ArchiveLimits& limits);

/// How a fault is told: of an archive that ends too early, or of a file that is none.
std::string fault_words(const ArchiveMembers& members, const std::string& fault);

/// What limits say after so many members, names and bytes.
std::optional<Finding> members_limit(const ArchiveMembers& members, const ArchiveLimits& limits);

}  // namespace glassine::bagit
