#include "support/forgetful_file_system.h"

#include <algorithm>
#include <filesystem>
#include <random>

#include <sys/stat.h>

namespace glassine::test {
namespace fs = std::filesystem;

class ForgetfulFileSystem::Output : public io::OutputFile {
  public:
    Output(ForgetfulFileSystem& files, Inode inode, std::unique_ptr<io::OutputFile> target)
        : files_(files), inode_(inode), target_(std::move(target)) {}

    void append(std::span<const std::byte> bytes) override {
        files_.note_unsynced(inode_);
        target_->append(bytes);
    }
    void set_modified(Timestamp moment) override { target_->set_modified(moment); }
    void sync() override {
        target_->sync();
        files_.note_synced(inode_);
    }
    void close() override { target_->close(); }

  private:
    ForgetfulFileSystem& files_;
    Inode inode_;
    std::unique_ptr<io::OutputFile> target_;
};

ForgetfulFileSystem::Inode ForgetfulFileSystem::inode(const io::Path& path) {
    const io::FileInfo info = target().info(path);
    return {info.device, info.inode};
}

void ForgetfulFileSystem::note_entry(const io::Path& path) {
    const Inode folder = inode(path.parent_path());
    const Inode thing = inode(path);
    const std::lock_guard lock(mutex_);
    entries_.push_back({folder, thing, {}, {}});
}

void ForgetfulFileSystem::note_unsynced(Inode file) {
    const std::lock_guard lock(mutex_);
    unsynced_.insert(file);
}

void ForgetfulFileSystem::note_synced(Inode file) {
    const std::lock_guard lock(mutex_);
    unsynced_.erase(file);
}

std::unique_ptr<io::OutputFile> ForgetfulFileSystem::create(const io::Path& path) {
    auto file = target().create(path);
    note_entry(path);
    note_unsynced(inode(path));
    return std::make_unique<Output>(*this, inode(path), std::move(file));
}

std::unique_ptr<io::OutputFile> ForgetfulFileSystem::append_to(const io::Path& path) {
    const bool is_new = !target().find(path);
    auto file = target().append_to(path);
    if (is_new) note_entry(path);
    return std::make_unique<Output>(*this, inode(path), std::move(file));
}

void ForgetfulFileSystem::make_directory(const io::Path& path) {
    target().make_directory(path);
    note_entry(path);
}

void ForgetfulFileSystem::rename(const io::Path& from, const io::Path& to) {
    const Inode thing = inode(from);
    const Inode old_folder = inode(from.parent_path());
    target().rename(from, to);
    const Inode folder = inode(to.parent_path());
    const std::lock_guard lock(mutex_);
    entries_.push_back({folder, thing, old_folder, from.filename().string()});
}

void ForgetfulFileSystem::replace(const io::Path& from, const io::Path& to) {
    target().replace(from, to);
}

void ForgetfulFileSystem::sync_file(const io::Path& path) {
    target().sync_file(path);
    note_synced(inode(path));
}

void ForgetfulFileSystem::sync_directory(const io::Path& path) {
    target().sync_directory(path);
    const Inode folder = inode(path);
    const std::lock_guard lock(mutex_);
    // What has its last name for good has lost the names before it for good.
    std::set<Inode> settled;
    for (std::size_t i = entries_.size(); i-- > 0;) {
        if (entries_[i].folder == folder) settled.insert(entries_[i].thing);
        if (settled.contains(entries_[i].thing))
            entries_.erase(entries_.begin() + static_cast<std::ptrdiff_t>(i));
    }
}

namespace {

using Inode = std::pair<std::uint64_t, std::uint64_t>;

/// Where everything below `root` stands now, `root` included.
std::map<Inode, fs::path> where_all_is(const fs::path& root) {
    std::map<Inode, fs::path> out;
    const auto add = [&](const fs::path& path) {
        struct stat status {};
        if (::lstat(path.c_str(), &status) == 0) out[{status.st_dev, status.st_ino}] = path;
    };
    add(root);
    for (const auto& entry : fs::recursive_directory_iterator(root))
        add(entry.path());
    return out;
}

/// Content that never came: nothing, the beginning, or zeros where it should be.
void spoil(const fs::path& file, unsigned how) {
    const auto size = fs::file_size(file);
    fs::resize_file(file, how == 1 ? size / 2 : 0);
    if (how == 2) fs::resize_file(file, size);
}

}  // namespace

void ForgetfulFileSystem::fail_power(const io::Path& root, Loss loss, std::uint64_t seed) {
    std::mt19937_64 random(seed);
    const auto lost = [&] { return loss == Loss::all || random() % 2 == 0; };
    for (auto entry = entries_.rbegin(); entry != entries_.rend(); ++entry) {
        const auto now = where_all_is(root);
        const auto thing = now.find(entry->thing);
        if (thing == now.end() || !lost()) continue;
        const auto old_folder = now.find(entry->old_folder);
        if (entry->old_name.empty())
            fs::remove_all(thing->second);
        else if (old_folder != now.end())
            fs::rename(thing->second, old_folder->second / entry->old_name);
    }
    const auto now = where_all_is(root);
    for (const Inode& file : unsynced_) {
        const auto at = now.find(file);
        if (at != now.end() && lost()) spoil(at->second, loss == Loss::all ? 0 : random() % 3);
    }
    entries_.clear();
    unsynced_.clear();
}

}  // namespace glassine::test
