#include "journeys/source_tree.h"

#include "glassine/base/finding.h"
#include "glassine/io/files.h"
#include "glassine/job/layout.h"

#include <algorithm>
#include <iterator>
#include <set>

namespace glassine::journeys {

flow::Destination::Need SourceTree::need() const {
    flow::Destination::Need need;
    need.files = files.size();
    for (const flow::Item& item : files) {
        need.bytes += item.size;
        need.largest_file = std::max(need.largest_file, item.size);
        need.longest_name = std::max<std::uint64_t>(need.longest_name, item.name.size());
    }
    return need;
}

bool in_junk(const std::string& path) {
    const io::Path whole(path);
    for (auto part = whole.begin(); part != whole.end(); ++part)
        if (job::is_system_junk(part->string(), std::next(part) != whole.end())) return true;
    return false;
}

SourceTree list_tree(io::FileSystem& files, const io::Path& root) {
    SourceTree tree;
    std::vector<std::string> folders;
    std::set<std::string> holding;
    io::walk(
        files, root,
        [&](const io::WalkEntry& entry) {
            holding.insert(io::Path(entry.path).parent_path().string());
            if (entry.type == io::FileType::directory)
                folders.push_back(entry.path);
            else if (entry.type == io::FileType::regular)
                tree.files.push_back({tree.files.size(), root / entry.path, entry.path,
                                      entry.info.size, entry.info.modified, true});
            else
                tree.findings.push_back(found(FindingKind::special_file, entry.path,
                                              "it is no file and no folder; it was not carried"));
        },
        [&](const std::string& path, const Error& error) {
            tree.findings.push_back(found(FindingKind::unreadable, path, error.sentence()));
        });
    for (std::string& folder : folders)
        if (!holding.contains(folder)) tree.folders.push_back(std::move(folder));
    return tree;
}

}  // namespace glassine::journeys
