#include "archive_view.h"

#include "glassine/bagit/layout.h"

#include <algorithm>
#include <numeric>

namespace glassine::bagit {
namespace {

/// A stretch of the archive file, as a file of its own.
class Window : public io::InputFile {
  public:
    Window(std::shared_ptr<io::InputFile> archive, const io::FileInfo& when_listed,
           std::uint64_t begin, io::FileInfo member)
        : archive_(std::move(archive)), listed_(when_listed), begin_(begin), member_(member) {}

    std::size_t read(std::uint64_t offset, std::span<std::byte> into) override {
        if (offset >= member_.size) return 0;
        const std::uint64_t left = member_.size - offset;
        return archive_->read(
            begin_ + offset,
            into.first(static_cast<std::size_t>(std::min<std::uint64_t>(left, into.size()))));
    }

    /// When the archive itself changes under the reader's hands, so do its members.
    io::FileInfo info() override {
        const io::FileInfo now = archive_->info();
        io::FileInfo out = member_;
        if (now.size != listed_.size || now.modified != listed_.modified)
            out.modified = {member_.modified.nanoseconds + 1};
        return out;
    }

    io::Bypass bypass() const override { return archive_->bypass(); }

    std::optional<std::uint64_t> physical_position() override {
        const auto start = archive_->physical_position();
        return start ? std::optional(*start + begin_) : std::nullopt;
    }

  private:
    std::shared_ptr<io::InputFile> archive_;
    const io::FileInfo& listed_;
    std::uint64_t begin_;
    io::FileInfo member_;
};

Error missing(const io::Path& path) {
    return {Cause::not_found, "look at", path.string(), "the archive has no such member"};
}

/// "a/b" before "a-b": what lies in a folder stands together behind it.
bool name_before(std::string_view a, std::string_view b) {
    return std::ranges::lexicographical_compare(a, b, [](char x, char y) {
        const auto rank = [](char c) { return c == '/' ? 0 : 1 + static_cast<unsigned char>(c); };
        return rank(x) < rank(y);
    });
}

}  // namespace

ArchiveView::ArchiveView(io::FileSystem& around, const io::Path& archive,
                         const ArchiveContents& contents)
    : ForwardingFileSystem(around),
      archive_(around.resolve(archive)),
      base_(contents.bag_name.empty() ? archive_ : archive_ / contents.bag_name),
      contents_(contents),
      archive_info_(around.info(archive_)),
      by_name_(contents.listing.size()) {
    std::iota(by_name_.begin(), by_name_.end(), Index{0});
    std::ranges::sort(by_name_, name_before, [this](Index i) { return contents_.listing[i].name; });
    // Its table is made now: later several threads ask at once.
    (void)contents_.listing.find(declaration_file);
}

std::optional<std::string> ArchiveView::inside(const io::Path& path) const {
    const std::string& whole = path.native();
    const std::string& base = base_.native();
    if (whole == base || whole == base + "/") return "";
    if (whole.size() <= base.size() || !whole.starts_with(base) || whole[base.size()] != '/')
        return std::nullopt;
    std::string name = whole.substr(base.size() + 1);
    while (name.ends_with('/'))
        name.pop_back();
    return name;
}

io::FileInfo ArchiveView::folder_info() const {
    io::FileInfo info = archive_info_;
    info.type = io::FileType::directory;
    info.size = 0;
    return info;
}

io::FileInfo ArchiveView::info_of(Index index) const {
    const Listing::Entry entry = contents_.listing[index];
    io::FileInfo info = archive_info_;
    info.type = entry.type;
    info.size = entry.size;
    info.modified = entry.modified;
    info.links = 1;
    return info;
}

std::size_t ArchiveView::place(std::string_view name) const {
    const auto at = std::ranges::lower_bound(by_name_, name, name_before,
                                             [this](Index i) { return contents_.listing[i].name; });
    return static_cast<std::size_t>(at - by_name_.begin());
}

/// Archives may leave the entries of folders out.
bool ArchiveView::is_folder(std::string_view name) const {
    if (name.empty()) return true;
    const std::string prefix = std::string(name) + "/";
    const std::size_t at = place(prefix);
    return at < by_name_.size() && contents_.listing[by_name_[at]].name.starts_with(prefix);
}

std::optional<io::FileInfo> ArchiveView::find(const io::Path& path) {
    const auto name = inside(path);
    if (!name) return target().find(path);
    const Index index = name->empty() ? Listing::none : contents_.listing.find(*name);
    if (index != Listing::none) return info_of(index);
    if (is_folder(*name)) return folder_info();
    return std::nullopt;
}

io::FileInfo ArchiveView::info(const io::Path& path) {
    const auto info = find(path);
    if (!info) throw missing(path);
    return *info;
}

std::vector<io::DirectoryEntry> ArchiveView::list(const io::Path& directory) {
    const auto name = inside(directory);
    if (!name) return target().list(directory);
    const std::string prefix = name->empty() ? "" : *name + "/";
    std::vector<io::DirectoryEntry> out;
    for (std::size_t at = place(prefix); at < by_name_.size();) {
        const Listing::Entry entry = contents_.listing[by_name_[at]];
        if (!entry.name.starts_with(prefix)) break;
        const std::string_view rest = entry.name.substr(prefix.size());
        const std::string part(rest.substr(0, rest.find('/')));
        const bool itself = part.size() == rest.size();
        out.push_back({part, itself ? entry.type : io::FileType::directory});
        // Past everything that lies in it.
        const std::string in_it = prefix + part + "/";
        ++at;
        while (at < by_name_.size() && contents_.listing[by_name_[at]].name.starts_with(in_it))
            ++at;
    }
    std::ranges::sort(out, {}, &io::DirectoryEntry::name);
    return out;
}

std::string ArchiveView::read_link(const io::Path& path) {
    if (inside(path)) throw missing(path);
    return target().read_link(path);
}

std::shared_ptr<io::InputFile> ArchiveView::archive_file(io::Cache cache) {
    const std::lock_guard lock(mutex_);
    auto& file = cache == io::Cache::use ? cached_ : uncached_;
    if (!file) file = target().open(archive_, cache);
    return file;
}

std::unique_ptr<io::InputFile> ArchiveView::open(const io::Path& path, io::Cache cache) {
    const auto name = inside(path);
    if (!name) return target().open(path, cache);
    const Index index = name->empty() ? Listing::none : contents_.listing.find(*name);
    if (index == Listing::none) throw missing(path);
    if (!contents_.listing.is_file(index))
        throw Error(Cause::not_supported, "open", path.string(), "it is not an ordinary file");
    return std::make_unique<Window>(archive_file(cache), archive_info_, contents_.offsets[index],
                                    info_of(index));
}

io::Volume ArchiveView::volume(const io::Path& path) {
    return target().volume(inside(path) ? archive_ : path);
}

io::Space ArchiveView::space(const io::Path& path) {
    return target().space(inside(path) ? archive_ : path);
}

io::Path ArchiveView::resolve(const io::Path& path) {
    return inside(path) ? path : target().resolve(path);
}

/// Archives are never changed.
void ArchiveView::refuse(const io::Path& path) const {
    if (inside(path))
        throw Error(Cause::read_only, "change", path.string(), "it lies in an archive",
                    "unpack the archive and work on the folder");
}

std::unique_ptr<io::OutputFile> ArchiveView::create(const io::Path& path) {
    refuse(path);
    return target().create(path);
}

std::unique_ptr<io::OutputFile> ArchiveView::append_to(const io::Path& path) {
    refuse(path);
    return target().append_to(path);
}

void ArchiveView::make_directory(const io::Path& path) {
    refuse(path);
    target().make_directory(path);
}

void ArchiveView::rename(const io::Path& from, const io::Path& to) {
    refuse(from);
    refuse(to);
    target().rename(from, to);
}

void ArchiveView::replace(const io::Path& from, const io::Path& to) {
    refuse(from);
    refuse(to);
    target().replace(from, to);
}

void ArchiveView::remove_file(const io::Path& path) {
    refuse(path);
    target().remove_file(path);
}

void ArchiveView::remove_directory(const io::Path& path) {
    refuse(path);
    target().remove_directory(path);
}

void ArchiveView::set_modified(const io::Path& path, Timestamp moment) {
    refuse(path);
    target().set_modified(path, moment);
}

void ArchiveView::sync_file(const io::Path& path) {
    refuse(path);
    target().sync_file(path);
}

void ArchiveView::sync_directory(const io::Path& path) {
    refuse(path);
    target().sync_directory(path);
}

std::unique_ptr<io::Lock> ArchiveView::try_lock(const io::Path& path) {
    refuse(path);
    return target().try_lock(path);
}

}  // namespace glassine::bagit
