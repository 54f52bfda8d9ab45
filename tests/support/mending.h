#pragma once

#include "glassine/journeys/mend.h"
#include "support/sealing.h"

#include <filesystem>
#include <map>
#include <set>
#include <string>
#include <vector>

namespace glassine::test {

/// Relative path and content of every file below a folder.
using Tree = std::map<std::string, std::string>;
Tree tree_of(const std::filesystem::path& folder);
/// Makes the folder hold these files and nothing else.
void write_tree(const std::filesystem::path& folder, const Tree& tree);

/// A sealed bag, remembered as it was, and copies of it that a test damages and mends.
class Mending {
  public:
    /// `recovery`: percent.
    explicit Mending(const JobSize& size = {}, unsigned recovery = 5);

    const Tree& sealed() const { return sealed_; }
    /// A folder of this name beside the others, as it was sealed or as given. What an earlier test
    /// left beside the bags is cleared for the name "bag".
    std::filesystem::path bag(const std::string& name = "bag") const;
    std::filesystem::path put(const std::string& name, const Tree& tree) const;
    std::filesystem::path put() const { return put("bag", sealed_); }
    /// What stands beside the bags: quarantines, leftovers.
    std::set<std::string> beside() const;
    void clear() const;

    report::MendResult mend(io::FileSystem& files, const std::vector<std::string>& from = {},
                            bool dry_run = false) const;
    report::MendResult mend(const std::vector<std::string>& from = {}, bool dry_run = false) const {
        return mend(io::posix_file_system(), from, dry_run);
    }

    /// Where all bags and quarantines lie.
    std::filesystem::path place() const { return sealing_.drive(2); }

  private:
    Sealing sealing_;
    Tree sealed_;
};

/// Paths of the healed files.
std::set<std::string> healed_paths(const report::MendResult& result);
/// Names whose content, or being there, differs.
std::set<std::string> differences(const Tree& a, const Tree& b);

}  // namespace glassine::test
