#include "glassine/bagit/archive_destination.h"

#include "archive_load.h"
#include "archive_view.h"
#include "archive_writer.h"
#include "glassine/io/files.h"

#include <algorithm>
#include <deque>
#include <map>
#include <mutex>
#include <utility>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

using io::Path;

constexpr std::string_view lock_name = "lock";
/// What waits and is larger than this waits in a file.
constexpr std::size_t waiting_memory = 4u << 20;
constexpr std::size_t copy_step = 1u << 20;
/// Headers before and behind a file's content, and its entry in a directory, generously.
constexpr std::uint64_t room_for_each_file = 2560;

class ArchiveDestination : public flow::Destination, public flow::Sink {
  public:
    ArchiveDestination(io::FileSystem& files, Path folder, std::string bag_name, ArchiveForm form)
        : files_(files),
          folder_(std::move(folder)),
          bag_name_(std::move(bag_name)),
          form_(form),
          file_name_(bag_name_ + std::string(archive_ending(form))),
          staging_(folder_ / flow::staging_name(file_name_)),
          staged_(staging_ / file_name_) {}

    std::string name() const override { return folder_.string(); }
    std::string published_path() const override { return (folder_ / file_name_).string(); }

    void check(const Need& need) override {
        // To the volume an archive is one file of that name.
        Need whole = need;
        whole.bytes += need.files * room_for_each_file;
        whole.largest_file = whole.bytes;
        flow::folder_destination(files_, folder_, file_name_)->check(whole);
    }

    void prepare() override {
        flow::clear_staging(files_, folder_, file_name_);
        files_.make_directory(staging_);
        lock_ = files_.try_lock(staging_ / lock_name);
        if (!lock_)
            throw Error(Cause::busy, "write to the destination", staging_.string(),
                        "another run is closing out this job here", "wait for it to end");
        out_ = files_.create(staged_);
        writer_ = std::make_unique<ArchiveWriter>(*out_, form_);
    }

    flow::Sink& sink() override { return *this; }
    bool one_at_a_time() const override { return true; }
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override;

    void put(std::string_view name, std::string_view content, Timestamp modified) override {
        const std::lock_guard lock(mutex_);
        waiting_.push_back({std::string(name), modified, std::string(content), {}, content.size()});
        if (!busy_) write_waiting();
    }

    std::string give_back(std::string_view name) override;

    void sync() override {
        const std::lock_guard lock(mutex_);
        writer_->finish();
        writer_.reset();
        out_->sync();
        out_->close();
        out_.reset();
        files_.sync_directory(staging_);
    }

    flow::Result read_back(std::span<flow::Sink* const> sinks,
                           const flow::Options& options) override;
    const std::vector<Written>& written() const override { return written_; }

    void publish() override {
        files_.rename(staged_, folder_ / file_name_);
        files_.sync_directory(folder_);
        abandon();
    }

    void abandon() noexcept override {
        writer_.reset();
        out_.reset();
        try {
            if (!lock_) return;
            io::remove_tree(files_, staging_);
            lock_.reset();
        } catch (const Error&) {
            // The next run for this job finds it and clears it.
            lock_.reset();
        }
    }

  private:
    class Direct;
    class Aside;

    /// A file that came while another was being written.
    struct Waiting {
        std::string name;
        Timestamp modified;
        std::string memory;  ///< the content, or its beginning
        Path spill;          ///< the rest; empty: there is none
        std::uint64_t size = 0;
    };
    struct Place {
        std::uint64_t offset;
        std::uint64_t size;
    };

    std::string member(const std::string& name) const { return bag_name_ + "/" + name; }

    // Under the mutex, and only while no stream is writing:
    void begin(const std::string& name, std::uint64_t size, Timestamp modified) {
        writer_->begin(member(name), size, modified);
        places_[name] = {writer_->position(), size};
    }
    void end(const std::string& name, std::uint64_t size) {
        writer_->end();
        written_.push_back({name, size});
    }
    void write_waiting();
    void pour(const Waiting& waiting);

    io::FileSystem& files_;
    Path folder_;
    std::string bag_name_;
    ArchiveForm form_;
    std::string file_name_;
    Path staging_;
    Path staged_;
    std::unique_ptr<io::Lock> lock_;
    std::unique_ptr<io::OutputFile> out_;
    std::unique_ptr<ArchiveWriter> writer_;

    std::mutex mutex_;   ///< guards what follows, and the writer while nothing is `busy_`
    bool busy_ = false;  ///< a stream has the writer to itself
    std::deque<Waiting> waiting_;
    std::size_t spilled_ = 0;
    std::vector<Written> written_;
    std::map<std::string, Place, std::less<>> places_;
};

/// Writes a file whose size is known straight into the archive.
class ArchiveDestination::Direct : public flow::Stream {
  public:
    Direct(ArchiveDestination& owner, const flow::Item& item)
        : owner_(owner), name_(item.name), size_(item.size) {}

    void block(std::uint64_t, std::span<const std::byte> bytes) override {
        owner_.writer_->bytes(bytes);
    }

    /// A file of another length than was listed is told by whoever reads it, and cannot be proven.
    void finish(const flow::Outcome&) override {
        const std::lock_guard lock(owner_.mutex_);
        owner_.end(name_, size_);
        owner_.busy_ = false;
        owner_.write_waiting();
    }

  private:
    ArchiveDestination& owner_;
    std::string name_;
    std::uint64_t size_;
};

/// Keeps a file of unknown size, or one that comes out of turn, until it is whole.
class ArchiveDestination::Aside : public flow::Stream {
  public:
    Aside(ArchiveDestination& owner, const flow::Item& item, std::size_t number) : owner_(owner) {
        waiting_.name = item.name;
        waiting_.modified = item.modified;
        waiting_.spill = owner.staging_ / fmt::format("waiting-{}", number);
    }

    void block(std::uint64_t, std::span<const std::byte> bytes) override {
        waiting_.size += bytes.size();
        if (!spill_ && waiting_.size <= waiting_memory) {
            waiting_.memory.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
            return;
        }
        if (!spill_) spill_ = owner_.files_.create(waiting_.spill);
        spill_->append(bytes);
    }

    void finish(const flow::Outcome&) override {
        if (spill_)
            spill_->close();
        else
            waiting_.spill.clear();
        const std::lock_guard lock(owner_.mutex_);
        owner_.waiting_.push_back(std::move(waiting_));
        if (!owner_.busy_) owner_.write_waiting();
    }

  private:
    ArchiveDestination& owner_;
    Waiting waiting_;
    std::unique_ptr<io::OutputFile> spill_;
};

std::unique_ptr<flow::Stream> ArchiveDestination::open(const flow::Item& item) {
    if (item.name.empty()) return nullptr;
    const std::lock_guard lock(mutex_);
    if (busy_ || item.size == 0) return std::make_unique<Aside>(*this, item, ++spilled_);
    begin(item.name, item.size, item.modified);
    busy_ = true;
    return std::make_unique<Direct>(*this, item);
}

void ArchiveDestination::write_waiting() {
    while (!waiting_.empty()) {
        const Waiting& waiting = waiting_.front();
        begin(waiting.name, waiting.size, waiting.modified);
        pour(waiting);
        end(waiting.name, waiting.size);
        waiting_.pop_front();
    }
}

void ArchiveDestination::pour(const Waiting& waiting) {
    writer_->bytes(std::as_bytes(std::span(waiting.memory.data(), waiting.memory.size())));
    if (waiting.spill.empty()) return;
    {
        const auto file = files_.open(waiting.spill, io::Cache::use);
        std::vector<std::byte> block(copy_step);
        std::uint64_t at = 0;
        while (const std::size_t got = file->read(at, block)) {
            writer_->bytes(std::span(block).first(got));
            at += got;
        }
    }
    files_.remove_file(waiting.spill);
}

std::string ArchiveDestination::give_back(std::string_view name) {
    const std::lock_guard lock(mutex_);
    const auto waiting = std::ranges::find(waiting_, name, &Waiting::name);
    if (waiting != waiting_.end()) return waiting->memory;
    const auto place = places_.find(name);
    if (place == places_.end())
        throw Error(Cause::not_found, "read what was written", std::string(name),
                    "it was not written here", "run the command again");
    std::string content(static_cast<std::size_t>(place->second.size), '\0');
    const auto file = files_.open(staged_, io::Cache::use);
    content.resize(file->read(place->second.offset,
                              std::as_writable_bytes(std::span(content.data(), content.size()))));
    return content;
}

/// Through the archive's own headers, as any reader finds the files.
flow::Result ArchiveDestination::read_back(std::span<flow::Sink* const> sinks,
                                           const flow::Options& options) {
    flow::Options past_the_cache = options;
    past_the_cache.cache = io::Cache::bypass;
    const auto archive = load_plain(files_, staged_, past_the_cache, {});
    flow::Result stopped;
    stopped.cancelled = true;
    if (archive && archive->stopped) return stopped;
    const auto unlike = [this](std::string why) {
        return Error(Cause::unreadable, "prove the copy", folder_.string(), std::move(why),
                     "do not use this drive, cable or port for an archive before it has been "
                     "tested");
    };
    if (!archive || archive->contents.torn || !archive->contents.findings.empty())
        throw unlike(!archive || archive->contents.findings.empty()
                         ? std::string("the archive reads back differently from what was written")
                         : archive->contents.findings[0].detail);
    if (archive->contents.listing.size() != written_.size())
        throw unlike(fmt::format("the archive lists {} of {} files",
                                 archive->contents.listing.size(), written_.size()));
    ArchiveView view(files_, staged_, archive->contents);
    flow::Reading reading;
    reading.count = written_.size();
    for (const Written& w : written_)
        reading.total_bytes += w.bytes;
    reading.item = [&](std::size_t i) {
        flow::Item item;
        item.id = i;
        item.path = view.base() / written_[i].name;
        item.name = written_[i].name;
        item.size = written_[i].bytes;
        return item;
    };
    return flow::River(view).run(reading, sinks, past_the_cache);
}

}  // namespace

std::string_view word(ArchiveForm form) {
    return form == ArchiveForm::tar ? "tar" : "zip";
}

std::string_view archive_ending(ArchiveForm form) {
    return form == ArchiveForm::tar ? ".tar" : ".zip";
}

std::unique_ptr<flow::Destination> archive_destination(io::FileSystem& files, io::Path folder,
                                                       std::string bag_name, ArchiveForm form) {
    return std::make_unique<ArchiveDestination>(files, std::move(folder), std::move(bag_name),
                                                form);
}

}  // namespace glassine::bagit
