#pragma once

#include "glassine/base/finding.h"
#include "glassine/digest/digest.h"
#include "glassine/flow/sink.h"
#include "glassine/io/file_system.h"

#include <map>
#include <mutex>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::journeys {

/// Checksum lists that somebody left beside old files, as coreutils write and read them: "HEX name"
/// (two blanks, or a blank and an asterisk), a backslash in front where the name is escaped, or
/// "SHA256 (name) = HEX" (GNU coreutils manual, "md5sum invocation"). The algorithm follows from
/// the length of the digest.
///
/// As a sink, proves every listed file in the read that is made of it anyway.
class ChecksumLists : public flow::Sink {
  public:
    /// By its name alone: "checksums.md5", "SHA256SUMS", "sha512sum.txt".
    static bool may_be_list(std::string_view file_name);
    /// Reads a list; false when no line of it is one of a checksum list. `shown`: what findings
    /// call it. Names in it are relative to the folder that it stands in.
    bool add(io::FileSystem& files, const io::Path& list, const std::string& shown);
    bool empty() const { return wanted_.empty(); }

    /// By `Item::path`.
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override;
    /// After the read: files that are not what a list says, and files that are listed and were not
    /// read. Paths are those of the items where they were read.
    std::vector<Finding> findings() const;
    /// Files that were found to be what a list says.
    std::size_t proven() const { return proven_.size(); }

  private:
    class Proving;
    struct Listed {
        digest::Algorithm algorithm;
        digest::Value digest;
        std::string list;
    };
    void take_line(const io::Path& folder, std::string_view line, const std::string& shown);
    void judge(const std::string& path, const std::vector<digest::Value>& values);

    std::map<std::string, std::vector<Listed>> wanted_;  ///< by path
    mutable std::mutex mutex_;
    std::set<std::string> proven_;
    std::vector<Finding> wrong_;
    std::set<std::string> seen_;
};

}  // namespace glassine::journeys
