#include "archive_load.h"
#include "glassine/base/text.h"

#include <fmt/format.h>

/// Archives in which everything stands as it is.
namespace glassine::bagit {
namespace {

using enum FindingKind;

constexpr std::uint64_t tar_record = 512;

/// Where the header after a member's content stands in a tar archive.
std::uint64_t after(std::uint64_t content, std::uint64_t size) {
    return content + (size + tar_record - 1) / tar_record * tar_record;
}

class HeaderWalk {
  public:
    HeaderWalk(ArchiveReader& reader, const flow::Options& flow, const ArchiveLimits& limits)
        : reader_(reader), flow_(flow), limits_(limits) {}

    /// False when something turned out to be packed.
    bool run(LoadedArchive& into, std::string_view file_name) {
        while (reader_.next()) {
            if (flow_.stop.stop_requested()) {
                into.stopped = true;
                return true;
            }
            if (reader_.compressed() || !fits()) return false;
            if (!take()) return false;
            if (auto limit = over_limit()) {
                members_.report(std::move(*limit));
                torn_ = true;
                break;
            }
        }
        if (reader_.compressed() || (!reader_.fault() && !fits())) return false;
        finish(into, file_name);
        return into.contents.plain;
    }

  private:
    /// The content of the member before was as long as its header said, so it stands there as it is
    /// (the content of sparse files is shorter than the file).
    bool fits() const { return reader_.zip() || !next_ || reader_.header_position() == *next_; }

    bool take() {
        const RawMember& member = reader_.member();
        next_.reset();
        std::uint64_t content = 0;
        if (member.type == io::FileType::regular && !member.hard_link && member.size > 0) {
            const auto position = reader_.content_position();
            if (!position || !member.size_known || member.encrypted) return false;
            content = *position;
            next_ = after(content, member.size);
            if (content + member.size > reader_.archive_size()) cut_short(member, content);
            content_bytes_ += member.size;
        }
        any_ = true;
        members_.add(member, content);
        return true;
    }

    /// Members of a ZIP archive may share their bytes, so that a small one holds petabytes.
    std::optional<Finding> over_limit() const {
        if (content_bytes_ > reader_.archive_size() && !torn_)
            return found(archive_limit, "",
                         "its members lie on top of one another: together they have more bytes "
                         "than the archive; the rest was not read");
        return members_limit(members_, limits_);
    }

    void cut_short(const RawMember& member, std::uint64_t content) {
        const std::uint64_t there =
            reader_.archive_size() - std::min(content, reader_.archive_size());
        members_.report(
            found(archive_malformed, "",
                  fmt::format("the archive ends {} into a file of {}", text::counted(there, "byte"),
                              text::counted(member.size, "byte"))));
        torn_ = true;
    }

    void finish(LoadedArchive& into, std::string_view file_name) {
        if (reader_.fault() && !torn_)
            members_.report(found(reader_.medium_failed() ? unreadable : archive_malformed, "",
                                  fault_words(members_, *reader_.fault())));
        ArchiveMembers::Sorted sorted = members_.sort(file_name);
        into.contents = std::move(sorted.contents);
        into.member_of = std::move(sorted.member_of);
        into.contents.media_type = reader_.media_type();
        into.contents.readable = any_ || !reader_.fault();
        into.contents.torn = torn_ || reader_.fault().has_value();
    }

    ArchiveReader& reader_;
    const flow::Options& flow_;
    const ArchiveLimits& limits_;
    ArchiveMembers members_;
    std::optional<std::uint64_t> next_;
    std::uint64_t content_bytes_ = 0;
    bool any_ = false;
    bool torn_ = false;
};

}  // namespace

std::string fault_words(const ArchiveMembers& members, const std::string& fault) {
    return (members.size() == 0 ? "it cannot be read as an archive: "
                                : "it cannot be read to its end: ") +
           fault;
}

std::optional<Finding> members_limit(const ArchiveMembers& members, const ArchiveLimits& limits) {
    if (members.size() < limits.members && members.name_bytes() < limits.name_bytes)
        return std::nullopt;
    return found(archive_limit, "",
                 fmt::format("it has more than {}, far more than a bag has; the rest was not read",
                             text::counted(members.size(), "member")));
}

std::unique_ptr<LoadedArchive> load_plain(io::FileSystem& files, const io::Path& path,
                                          const flow::Options& flow, const ArchiveLimits& limits) {
    ArchiveReader reader(files, path, flow.cache, ArchiveReader::headers_only);
    auto loaded = std::make_unique<LoadedArchive>();
    if (!HeaderWalk(reader, flow, limits).run(*loaded, path.filename().string())) return nullptr;
    loaded->reading.bytes = reader.bytes_read();
    return loaded;
}

}  // namespace glassine::bagit
