#pragma once

#include "archive_reader.h"
#include "glassine/bagit/archive.h"
#include "glassine/bagit/arena.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::bagit {

/// Collects the members of an archive as they are met and, when all are known, sorts out which of
/// them are the bag.
class ArchiveMembers {
  public:
    using Ordinal = std::uint32_t;  ///< of a member, in the order of the archive

    /// `offset`: where its content stands as it is. False for a member that is left out for good
    /// (told in the findings); it is counted all the same.
    bool add(const RawMember& member, std::uint64_t offset);
    /// The size turned out to be another one than the header said.
    void set_size(Ordinal member, std::uint64_t size) { members_[member].size = size; }
    void set_offset(Ordinal member, std::uint64_t offset) { members_[member].offset = offset; }
    void report(Finding finding) { findings_.push_back(std::move(finding)); }

    Ordinal size() const { return static_cast<Ordinal>(members_.size()); }
    std::uint64_t name_bytes() const { return name_bytes_; }
    std::string_view name(Ordinal member) const { return members_[member].view(); }

    /// The bag among the members; `file_name` is the archive's own.
    struct Sorted {
        ArchiveContents contents;
        /// By listing index: the member whose content the file has (a hard link's target).
        std::vector<Ordinal> member_of;
    };
    Sorted sort(std::string_view file_name);

  private:
    struct Member {
        const char* name;
        std::uint32_t length;
        io::FileType type;
        std::uint64_t size;
        std::uint64_t offset;
        Timestamp modified;
        std::string_view view() const { return {name, length}; }
    };
    struct Link {
        Ordinal member;
        std::string target;
    };

    std::string choose_base();
    void tell_neighbours(const std::string& base);
    void take(const std::string& base, Sorted& into);
    void resolve_links(const std::string& base, Sorted& into);
    void drop_doubles(Sorted& into);
    void tell_files_as_folders(const Listing& listing);

    TextArena names_;
    ChunkedVector<Member> members_;
    std::vector<Link> links_;
    std::uint64_t name_bytes_ = 0;
    std::vector<Finding> findings_;
};

/// Whether a member's name, below a top-level folder or outside any, is one that the standard gives
/// a meaning: to be kept for its content while a packed archive passes by. Gives that name.
std::optional<std::string_view> standard_tag_file(std::string_view member);

}  // namespace glassine::bagit
