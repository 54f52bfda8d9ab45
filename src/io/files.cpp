#include "glassine/io/files.h"

#include <algorithm>

namespace glassine::io {

std::string read_small_file(FileSystem& files, const Path& path, std::uint64_t limit) {
    const auto file = files.open(path, Cache::use);
    std::string content;
    constexpr std::size_t step = 256u << 10;
    for (;;) {
        const std::size_t had = content.size();
        content.resize(had + step);
        const std::size_t got =
            file->read(had, std::as_writable_bytes(std::span(content.data() + had, step)));
        content.resize(had + got);
        if (content.size() > limit)
            throw Error(Cause::malformed, "read", path.string(),
                        "the file is far larger than a file of its kind can be");
        if (got < step) return content;
    }
}

void write_new_file(FileSystem& files, const Path& path, std::string_view content) {
    const auto file = files.create(path);
    file->append(content);
    file->sync();
    file->close();
}

void write_file_durably(FileSystem& files, const Path& path, std::string_view content) {
    const Path beside = path.string() + ".glassine-new";
    if (files.find(beside)) files.remove_file(beside);
    write_new_file(files, beside, content);
    files.replace(beside, path);
    files.sync_directory(path.has_parent_path() ? path.parent_path() : Path("."));
}

void make_directories(FileSystem& files, const Path& path) {
    if (path.empty() || !files.has_folders(path) || files.find(path)) return;
    make_directories(files, path.parent_path());
    try {
        files.make_directory(path);
    } catch (const Error& error) {
        if (error.cause() != Cause::exists) throw;
    }
    files.sync_directory(path.has_parent_path() ? path.parent_path() : Path("."));
}

void remove_tree(FileSystem& files, const Path& path) {
    for (const DirectoryEntry& entry : files.list(path)) {
        const Path child = path / entry.name;
        const FileType type = entry.type == FileType::unknown ? files.info(child).type : entry.type;
        if (type == FileType::directory)
            remove_tree(files, child);
        else
            files.remove_file(child);
    }
    files.remove_directory(path);
}

namespace {

struct Walker {
    FileSystem& files;
    const std::function<void(const WalkEntry&)>& visit;
    const std::function<void(const std::string&, const Error&)>& on_error;
    const std::function<bool(const WalkEntry&)>& enter;

    void folder(const Path& path, const std::string& name) {
        std::vector<DirectoryEntry> entries;
        try {
            entries = files.list(path);
        } catch (const Error& error) {
            on_error(name, error);
            return;
        }
        for (const DirectoryEntry& entry : entries)
            one(path / entry.name, name.empty() ? entry.name : name + "/" + entry.name);
    }

    void one(const Path& path, std::string name) {
        WalkEntry entry{std::move(name), FileType::unknown, {}};
        try {
            entry.info = files.info(path);
        } catch (const Error& error) {
            on_error(entry.path, error);
            return;
        }
        entry.type = entry.info.type;
        visit(entry);
        if (entry.type == FileType::directory && (!enter || enter(entry))) folder(path, entry.path);
    }
};

}  // namespace

void walk(FileSystem& files, const Path& root, const std::function<void(const WalkEntry&)>& visit,
          const std::function<void(const std::string& path, const Error&)>& on_error,
          const std::function<bool(const WalkEntry&)>& enter) {
    Walker{files, visit, on_error, enter}.folder(root, "");
}

}  // namespace glassine::io
