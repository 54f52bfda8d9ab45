#include "glassine/base/text.h"
#include "glassine/flow/destination.h"
#include "glassine/flow/file_destination.h"
#include "glassine/flow/handout.h"
#include "glassine/io/files.h"
#include "room.h"
#include "staging_place.h"

#include <mutex>
#include <set>
#include <utility>

#include <fmt/format.h>

namespace glassine::flow {
namespace {

using io::Path;

constexpr std::string_view staging_ending = ".glassine-staging";
constexpr std::string_view bag_folder = "bag";
/// Lists, thumbnails, proxies: what is given back one by one.
constexpr std::uint64_t largest_small_file = std::uint64_t{1} << 30;
constexpr std::uint64_t largest_on_fat = 4'294'967'295;

constexpr std::string_view work = "closing out this job";

/// What is published: the whole folder under its name, or the one file in it.
enum class Publishes { folder, file };

class FolderDestination : public FileDestination, public Sink {
  public:
    FolderDestination(io::FileSystem& files, Path folder, std::string bag_name,
                      Publishes publishes = Publishes::folder)
        : files_(files),
          publishes_(publishes),
          folder_(std::move(folder)),
          bag_name_(std::move(bag_name)),
          staging_(files, folder_ / staging_name(bag_name_), std::string(work)),
          staged_bag_(staging_.path() / bag_folder) {}

    std::string name() const override { return folder_.string(); }
    std::string published_path() const override { return (folder_ / bag_name_).string(); }
    Path staged() const override {
        return publishes_ == Publishes::file ? staged_bag_ / bag_name_ : staged_bag_;
    }

    void check(const Need& need) override {
        const auto folder = files_.find(folder_);
        if (!folder)
            throw Error(Cause::not_found, "write to the destination", folder_.string(),
                        "there is no such folder",
                        "check that the drive is connected; if the folder is meant to be new, "
                        "create it first");
        if (files_.info(files_.resolve(folder_)).type != io::FileType::directory)
            throw Error(Cause::not_supported, "write to the destination", folder_.string(),
                        "it is not a folder", "name a folder on the drive");
        if (files_.find(folder_ / bag_name_))
            throw Error(Cause::exists, "seal the bag", published_path(),
                        "a bag or folder of that name is there already",
                        "nothing is ever replaced: audit what is there, or give this job another "
                        "description");
        check_room(need);
    }

    void prepare() override {
        staging_.make();
        files_.make_directory(staged_bag_);
        folders_.insert("");
    }

    Sink& sink() override { return *this; }
    std::unique_ptr<Stream> open(const Item& item) override;

    void put(std::string_view name, std::string_view content, Timestamp modified) override {
        const auto file = create(std::string(name));
        file->append(content);
        file->set_modified(modified);
        file->close();
        record({std::string(name), content.size()});
    }

    void put_folder(std::string_view name) override { make_folders(Path(name)); }

    void withdraw(std::string_view name) override {
        const std::lock_guard lock(mutex_);
        files_.remove_file(staged_bag_ / name);
        std::erase_if(written_, [&](const Written& written) { return written.name == name; });
        std::erase(unsynced_, std::string(name));
    }

    std::string give_back(std::string_view name) override {
        return io::read_small_file(files_, staged_bag_ / name, largest_small_file);
    }

    void sync() override {
        std::vector<Path> paths;
        for (const std::string& name : unsynced_)
            paths.push_back(staged_bag_ / name);
        sync_files(files_, paths);
        unsynced_.clear();
        // Deepest first: a folder is safe when what is in it is.
        for (auto at = folders_.rbegin(); at != folders_.rend(); ++at)
            files_.sync_directory(staged_bag_ / *at);
    }

    Result read_back(std::span<Sink* const> sinks, const Options& options) override {
        Reading reading;
        reading.count = written_.size();
        for (const Written& w : written_)
            reading.total_bytes += w.bytes;
        reading.item = [this](std::size_t i) {
            Item item;
            item.id = i;
            item.path = staged_bag_ / written_[i].name;
            item.name = written_[i].name;
            item.size = written_[i].bytes;
            return item;
        };
        Options past_the_cache = options;
        past_the_cache.cache = io::Cache::bypass;
        return River(files_).run(reading, sinks, past_the_cache);
    }

    const std::vector<Written>& written() const override { return written_; }
    bool can_supply() const override { return publishes_ == Publishes::folder; }

    void publish() override {
        files_.rename(staged(), folder_ / bag_name_);
        files_.sync_directory(folder_);
        abandon();
    }

    void abandon() noexcept override { staging_.remove(); }

  private:
    class Writer;

    void check_room(const Need& need) {
        const std::uint64_t wanted = need.bytes + need.files * room_for_each_file + room_to_spare;
        const std::uint64_t there = files_.space(folder_).free_bytes;
        if (there < wanted)
            throw Error(Cause::no_space, "write to the destination", folder_.string(),
                        fmt::format("the job needs {}, and {} are free", text::human_bytes(wanted),
                                    text::human_bytes(there)),
                        "free some space there or name another drive; nothing was written");
        const io::Volume volume = files_.volume(folder_);
        if (volume.read_only)
            throw Error(
                Cause::read_only, "write to the destination", folder_.string(),
                "the volume can only be read",
                "take off the write protection or name another volume; nothing was written");
        if (volume.file_system == "vfat" && need.largest_file > largest_on_fat)
            throw Error(Cause::no_space, "write to the destination", folder_.string(),
                        "its FAT file system ends at 4 GiB a file, and the job has a larger one",
                        "use a drive formatted for large files; nothing was written");
    }

    std::unique_ptr<io::OutputFile> create(const std::string& name) {
        make_folders(Path(name).parent_path());
        return files_.create(staged_bag_ / name);
    }

    void make_folders(const Path& relative) {
        const std::lock_guard lock(mutex_);
        make_folders_locked(relative);
    }

    void make_folders_locked(const Path& relative) {
        if (folders_.contains(relative.string())) return;
        make_folders_locked(relative.parent_path());
        files_.make_directory(staged_bag_ / relative);
        folders_.insert(relative.string());
    }

    void record(Written written) {
        const std::lock_guard lock(mutex_);
        unsynced_.push_back(written.name);
        written_.push_back(std::move(written));
    }

    io::FileSystem& files_;
    Publishes publishes_;
    Path folder_;
    std::string bag_name_;
    StagingPlace staging_;
    Path staged_bag_;

    std::mutex mutex_;  ///< guards what the writers share
    std::set<std::string> folders_;
    std::vector<Written> written_;
    std::vector<std::string> unsynced_;
};

/// Writes one file. Syncing waits until all are written: the medium works through them meanwhile.
class FolderDestination::Writer : public Stream {
  public:
    Writer(FolderDestination& destination, Item item)
        : destination_(destination),
          item_(std::move(item)),
          file_(destination.create(item_.name)) {}

    void block(std::uint64_t, std::span<const std::byte> bytes) override { file_->append(bytes); }

    void finish(const Outcome& outcome) override {
        const bool has_time = item_.modified != Timestamp{};
        if (outcome.status == Status::whole && has_time) file_->set_modified(item_.modified);
        file_->close();
        destination_.record({item_.name, outcome.bytes});
    }

  private:
    FolderDestination& destination_;
    Item item_;
    std::unique_ptr<io::OutputFile> file_;
};

std::unique_ptr<Stream> FolderDestination::open(const Item& item) {
    if (item.name.empty()) return nullptr;
    return std::make_unique<Writer>(*this, item);
}

}  // namespace

void Destination::withdraw(std::string_view) {
    throw Error(Cause::not_supported, "put right what was written", name(),
                "this kind of destination cannot take back a file",
                "mend the bag first, or name a folder on a drive");
}

std::string staging_name(std::string_view bag_name) {
    return fmt::format(".{}{}", bag_name, staging_ending);
}

bool is_staging_name(std::string_view name) {
    return name.starts_with('.') && name.ends_with(staging_ending);
}

void clear_staging(io::FileSystem& files, const io::Path& folder, std::string_view bag_name) {
    StagingPlace(files, folder / staging_name(bag_name), std::string(work)).clear();
}

std::unique_ptr<Destination> folder_destination(io::FileSystem& files, io::Path folder,
                                                std::string bag_name) {
    return std::make_unique<FolderDestination>(files, std::move(folder), std::move(bag_name));
}

std::unique_ptr<FileDestination> file_destination(io::FileSystem& files, io::Path folder,
                                                  std::string name) {
    return std::make_unique<FolderDestination>(files, std::move(folder), std::move(name),
                                               Publishes::file);
}

}  // namespace glassine::flow
