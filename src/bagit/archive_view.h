#pragma once

#include "glassine/bagit/archive.h"

#include <memory>
#include <mutex>
#include <string>
#include <vector>

namespace glassine::bagit {

/// A plain archive as a read-only file system: its own path is a folder that holds the bag's
/// folder. All other paths are those of the file system around it.
class ArchiveView : public io::ForwardingFileSystem {
  public:
    /// `around` and `contents` outlive the view. `base`: the bag's folder in the view.
    ArchiveView(io::FileSystem& around, const io::Path& archive, const ArchiveContents& contents);

    const io::Path& base() const { return base_; }

    io::FileInfo info(const io::Path& path) override;
    std::optional<io::FileInfo> find(const io::Path& path) override;
    std::vector<io::DirectoryEntry> list(const io::Path& directory) override;
    std::string read_link(const io::Path& path) override;
    std::unique_ptr<io::InputFile> open(const io::Path& path, io::Cache cache) override;
    io::Volume volume(const io::Path& path) override;
    io::Space space(const io::Path& path) override;
    io::Path resolve(const io::Path& path) override;

    std::unique_ptr<io::OutputFile> create(const io::Path& path) override;
    std::unique_ptr<io::OutputFile> append_to(const io::Path& path) override;
    void make_directory(const io::Path& path) override;
    void rename(const io::Path& from, const io::Path& to) override;
    void replace(const io::Path& from, const io::Path& to) override;
    void remove_file(const io::Path& path) override;
    void remove_directory(const io::Path& path) override;
    void set_modified(const io::Path& path, Timestamp moment) override;
    void sync_file(const io::Path& path) override;
    void sync_directory(const io::Path& path) override;
    std::unique_ptr<io::Lock> try_lock(const io::Path& path) override;

  private:
    using Index = Listing::Index;
    /// The name relative to the bag's folder; nothing when the path does not lie in it.
    std::optional<std::string> inside(const io::Path& path) const;
    void refuse(const io::Path& path) const;
    io::FileInfo info_of(Index index) const;
    io::FileInfo folder_info() const;
    /// The first in `by_name_` whose name is not before this one.
    std::size_t place(std::string_view name) const;
    bool is_folder(std::string_view name) const;
    std::shared_ptr<io::InputFile> archive_file(io::Cache cache);

    io::Path archive_;
    io::Path base_;
    const ArchiveContents& contents_;
    io::FileInfo archive_info_;
    std::vector<Index> by_name_;
    std::mutex mutex_;
    std::shared_ptr<io::InputFile> cached_;
    std::shared_ptr<io::InputFile> uncached_;
};

}  // namespace glassine::bagit
