#include "support/fault_file_system.h"

#include <algorithm>
#include <utility>

namespace glassine::test {
namespace {

bool lies_below(const io::Path& path, const std::string& place) {
    const std::string text = path.string();
    return text == place || text.starts_with(place + "/");
}

class FaultInput : public io::InputFile {
  public:
    FaultInput(FaultFileSystem& faults, std::string path, std::unique_ptr<io::InputFile> target)
        : faults_(faults), path_(std::move(path)), target_(std::move(target)) {}

    std::size_t read(std::uint64_t offset, std::span<std::byte> into) override {
        faults_.step("read", path_);
        faults_.check_read(path_, offset, into.size());
        return target_->read(offset, into);
    }
    io::FileInfo info() override {
        faults_.step("look at", path_);
        return target_->info();
    }
    io::Bypass bypass() const override { return target_->bypass(); }
    std::optional<std::uint64_t> physical_position() override {
        return target_->physical_position();
    }

  private:
    FaultFileSystem& faults_;
    std::string path_;
    std::unique_ptr<io::InputFile> target_;
};

class FaultOutput : public io::OutputFile {
  public:
    FaultOutput(FaultFileSystem& faults, io::Path path, std::unique_ptr<io::OutputFile> target)
        : faults_(faults), path_(std::move(path)), target_(std::move(target)) {}

    void append(std::span<const std::byte> bytes) override {
        faults_.step("write", path_);
        target_->append(bytes);
    }
    void set_modified(Timestamp moment) override {
        faults_.step("set the time", path_);
        target_->set_modified(moment);
    }
    void sync() override {
        faults_.step("sync", path_);
        target_->sync();
    }
    void close() override {
        faults_.step("close", path_);
        target_->close();
    }

  private:
    FaultFileSystem& faults_;
    io::Path path_;
    std::unique_ptr<io::OutputFile> target_;
};

}  // namespace

void FaultFileSystem::fail_at(std::uint64_t n, Cause cause) {
    cause_ = cause;
    fired_ = false;
    fail_at_ = n == 0 ? 0 : count_ + n;
}

void FaultFileSystem::fail_from(std::uint64_t n, Cause cause) {
    cause_ = cause;
    fired_ = false;
    fail_from_ = n == 0 ? 0 : count_ + n;
}

void FaultFileSystem::fail_below(std::string place, std::uint64_t n, Cause cause) {
    cause_ = cause;
    fired_ = false;
    below_ = std::move(place);
    fail_below_from_ = n == 0 ? 0 : count_ + n;
}

void FaultFileSystem::damage(const std::string& name, std::uint64_t sector) {
    damaged_[name].insert(sector);
}

void FaultFileSystem::before_read(const std::string& name,
                                  std::function<void(std::uint64_t)> action) {
    before_read_[name] = std::move(action);
}

void FaultFileSystem::before_open(const std::string& name, std::function<void()> action) {
    before_open_[name] = std::move(action);
}

void FaultFileSystem::step(const char* what, const io::Path& path) {
    const std::uint64_t now = ++count_;
    const bool gone = fail_below_from_ != 0 && now >= fail_below_from_ && lies_below(path, below_);
    const bool fails = gone || now == fail_at_ || (fail_from_ != 0 && now >= fail_from_);
    if (!fails) return;
    fired_ = true;
    throw Error(cause_, what, path.string(), "a fault made by the test");
}

void FaultFileSystem::check_read(const std::string& path, std::uint64_t offset,
                                 std::uint64_t length) {
    for (const auto& [name, action] : before_read_)
        if (path.ends_with(name)) action(offset);
    constexpr std::uint64_t sector = 4096;
    for (const auto& [name, sectors] : damaged_) {
        if (!path.ends_with(name)) continue;
        const auto at = sectors.lower_bound(offset / sector);
        if (at != sectors.end() && *at * sector < offset + length)
            throw Error(Cause::unreadable, "read", path,
                        "the medium reports an input/output error");
    }
}

io::FileInfo FaultFileSystem::info(const io::Path& path) {
    step("look at", path);
    return target().info(path);
}
std::optional<io::FileInfo> FaultFileSystem::find(const io::Path& path) {
    step("look for", path);
    return target().find(path);
}
std::vector<io::DirectoryEntry> FaultFileSystem::list(const io::Path& directory) {
    step("list", directory);
    return target().list(directory);
}
std::unique_ptr<io::InputFile> FaultFileSystem::open(const io::Path& path, io::Cache cache) {
    step("open", path);
    for (const auto& [name, action] : before_open_)
        if (path.string().ends_with(name)) action();
    return std::make_unique<FaultInput>(*this, path.string(), target().open(path, cache));
}
std::unique_ptr<io::OutputFile> FaultFileSystem::create(const io::Path& path) {
    step("create", path);
    return std::make_unique<FaultOutput>(*this, path, target().create(path));
}
std::unique_ptr<io::OutputFile> FaultFileSystem::append_to(const io::Path& path) {
    step("open for writing", path);
    return std::make_unique<FaultOutput>(*this, path, target().append_to(path));
}
void FaultFileSystem::make_directory(const io::Path& path) {
    step("create the folder", path);
    target().make_directory(path);
}
void FaultFileSystem::rename(const io::Path& from, const io::Path& to) {
    step("rename", from);
    target().rename(from, to);
    move_damage(from.string(), to.string());
}
void FaultFileSystem::replace(const io::Path& from, const io::Path& to) {
    step("replace", from);
    target().replace(from, to);
    move_damage(from.string(), to.string());
}

void FaultFileSystem::move_damage(const std::string& from, const std::string& to) {
    std::erase_if(damaged_, [&](const auto& entry) { return to.ends_with(entry.first); });
    const auto at = std::find_if(damaged_.begin(), damaged_.end(),
                                 [&](const auto& entry) { return from.ends_with(entry.first); });
    if (at == damaged_.end()) return;
    damaged_[to] = at->second;
    damaged_.erase(at);
}
void FaultFileSystem::remove_file(const io::Path& path) {
    step("remove", path);
    target().remove_file(path);
}
void FaultFileSystem::remove_directory(const io::Path& path) {
    step("remove the folder", path);
    target().remove_directory(path);
}
void FaultFileSystem::sync_file(const io::Path& path) {
    step("sync", path);
    target().sync_file(path);
}
void FaultFileSystem::sync_directory(const io::Path& path) {
    step("sync the folder", path);
    target().sync_directory(path);
}
io::Space FaultFileSystem::space(const io::Path& path) {
    step("ask for space", path);
    io::Space space = target().space(path);
    if (free_space_ != 0) space.free_bytes = free_space_;
    return space;
}
io::Volume FaultFileSystem::volume(const io::Path& path) {
    io::Volume volume = target().volume(path);
    if (rotates_ >= 0) volume.rotates = rotates_ == 1;
    return volume;
}
std::unique_ptr<io::Lock> FaultFileSystem::try_lock(const io::Path& path) {
    step("lock", path);
    return target().try_lock(path);
}

}  // namespace glassine::test
