#include "support/mending.h"

#include <algorithm>

namespace glassine::test {
namespace fs = std::filesystem;

Tree tree_of(const fs::path& folder) {
    Tree tree;
    if (!fs::exists(folder)) return tree;
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        if (entry.is_regular_file())
            tree[fs::relative(entry.path(), folder).string()] = content_of(entry.path());
    return tree;
}

void write_tree(const fs::path& folder, const Tree& tree) {
    fs::remove_all(folder);
    for (const auto& [name, content] : tree) {
        fs::create_directories((folder / name).parent_path());
        write_file(folder / name, content);
    }
}

Mending::Mending(const JobSize& size, unsigned recovery) : sealing_(size) {
    auto request = sealing_.request({1});
    request.recovery_percent = recovery;
    const auto result = sealing_.closeout(io::posix_file_system(), request);
    INFO(listed(result.findings));
    REQUIRE(result.ending == report::Ending::good);
    sealed_ = tree_of(sealing_.bag(1));
}

fs::path Mending::bag(const std::string& name) const {
    return place() / name;
}

fs::path Mending::put(const std::string& name, const Tree& tree) const {
    write_tree(bag(name), tree);
    return bag(name);
}

std::set<std::string> Mending::beside() const {
    std::set<std::string> out;
    for (const auto& entry : fs::directory_iterator(place()))
        out.insert(entry.path().filename().string());
    return out;
}

void Mending::clear() const {
    for (const std::string& name : beside())
        fs::remove_all(place() / name);
}

report::MendResult Mending::mend(io::FileSystem& files, const std::vector<std::string>& from,
                                 bool dry_run) const {
    journeys::SilentMonitor silent;
    flow::Resources resources;
    resources.block_size = 64u << 10;
    resources.blocks = 24;
    resources.threads = 2;
    const journeys::Context context{files, silent, {}, {}, "keeper", resources};
    journeys::MendRequest request;
    request.bag = bag();
    for (const std::string& name : from)
        request.from.push_back(bag(name));
    request.dry_run = dry_run;
    return journeys::mend(context, request);
}

std::set<std::string> healed_paths(const report::MendResult& result) {
    std::set<std::string> out;
    for (const report::HealedFile& file : result.healed)
        out.insert(file.path);
    return out;
}

std::set<std::string> differences(const Tree& a, const Tree& b) {
    std::set<std::string> out;
    for (const auto& [name, content] : a) {
        const auto at = b.find(name);
        if (at == b.end() || at->second != content) out.insert(name);
    }
    for (const auto& [name, content] : b)
        if (!a.contains(name)) out.insert(name);
    return out;
}

}  // namespace glassine::test
