#include "glassine/base/text.h"
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

constexpr std::string_view staging_folder = ".glassine-restore";

class FolderHandout : public Handout {
  public:
    FolderHandout(io::FileSystem& files, Path folder)
        : files_(files),
          folder_(std::move(folder)),
          staging_(files, folder_ / staging_folder, "handing out pictures") {}
    ~FolderHandout() override { abandon(); }

    std::string name() const override { return folder_.string(); }

    void check(const Need& need) override {
        const bool there = files_.find(folder_).has_value();
        const Path place = there ? folder_ : parent();
        if (!files_.find(place))
            throw Error(Cause::not_found, "hand out into", folder_.string(),
                        "neither this folder nor the one above it is there",
                        "check the path and that the drive is connected");
        if (files_.info(files_.resolve(place)).type != io::FileType::directory)
            throw Error(Cause::not_supported, "hand out into", folder_.string(),
                        "it is not a folder", "name a folder, or a file that ends in .zip");
        check_room_for_pictures(files_, place, folder_,
                                need.bytes + need.files * room_for_each_file + room_to_spare);
    }

    Path standing(const std::string& name) override {
        return files_.find(folder_ / name) ? folder_ / name : Path();
    }

    void prepare() override {
        if (!files_.find(folder_)) {
            files_.make_directory(folder_);
            folder_is_new_ = true;
        }
        staging_.make();
    }

    std::unique_ptr<File> create(const Item& item) override;

    Published publish() override {
        std::vector<Path> paths;
        for (const std::string& name : kept_)
            paths.push_back(staged(name));
        sync_files(files_, paths);
        Published published;
        std::set<Path> folders{folder_};
        for (const std::string& name : kept_)
            place(name, folders, published);
        for (const Path& folder : folders)
            files_.sync_directory(folder);
        if (folder_is_new_) files_.sync_directory(parent());
        published.paths.push_back(folder_.string());
        folder_is_new_ = false;
        staging_.remove();
        return published;
    }

    void abandon() noexcept override {
        staging_.remove();
        try {
            if (folder_is_new_) files_.remove_directory(folder_);
        } catch (const Error&) {
            // An empty folder, or one that somebody has put something into meanwhile.
            folder_is_new_ = false;
        }
        folder_is_new_ = false;
    }

  private:
    class Writer;

    Path parent() const { return folder_.has_parent_path() ? folder_.parent_path() : Path("."); }
    Path staged(const std::string& name) const { return staging_.path() / "files" / name; }

    void place(const std::string& name, std::set<Path>& folders, Published& published) {
        const Path target = folder_ / name;
        try {
            io::make_directories(files_, target.parent_path());
            files_.rename(staged(name), target);
            for (Path up = target.parent_path(); up != folder_; up = up.parent_path())
                folders.insert(up);
        } catch (const Error& error) {
            if (error.cause() != Cause::exists) throw;
            published.taken.push_back(name);
        }
    }

    io::FileSystem& files_;
    Path folder_;
    StagingPlace staging_;
    bool folder_is_new_ = false;
    std::mutex mutex_;
    std::vector<std::string> kept_;
};

class FolderHandout::Writer : public Receiver::File {
  public:
    Writer(FolderHandout& owner, const Item& item)
        : owner_(owner), name_(item.name), modified_(item.modified) {
        const Path path = owner.staged(name_);
        io::make_directories(owner.files_, path.parent_path());
        if (owner.files_.find(path)) owner.files_.remove_file(path);
        file_ = owner.files_.create(path);
    }

    void append(std::span<const std::byte> bytes) override { file_->append(bytes); }

    void keep() override {
        if (modified_ != Timestamp{}) file_->set_modified(modified_);
        file_->close();
        const std::lock_guard lock(owner_.mutex_);
        owner_.kept_.push_back(name_);
    }

  private:
    FolderHandout& owner_;
    std::string name_;
    Timestamp modified_;
    std::unique_ptr<io::OutputFile> file_;
};

std::unique_ptr<Receiver::File> FolderHandout::create(const Item& item) {
    return std::make_unique<Writer>(*this, item);
}

}  // namespace

std::unique_ptr<Handout> folder_handout(io::FileSystem& files, io::Path folder) {
    return std::make_unique<FolderHandout>(files, std::move(folder));
}

}  // namespace glassine::flow
