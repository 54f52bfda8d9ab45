#include "glassine/base/text.h"
#include "glassine/flow/handout.h"
#include "room.h"
#include "staging_place.h"
#include "zip_writer.h"

#include <algorithm>
#include <atomic>
#include <mutex>
#include <utility>

#include <fmt/format.h>

namespace glassine::flow {
namespace {

using io::Path;

/// Bytes of pictures that wait in memory until they are proven; what has no room there waits in a
/// file beside the ZIP file.
constexpr std::uint64_t waiting_memory = 96u << 20;

class ZipHandout : public Handout {
  public:
    ZipHandout(io::FileSystem& files, Path zip, std::uint64_t split)
        : files_(files),
          zip_(std::move(zip)),
          split_(split),
          staging_(files, folder() / fmt::format(".{}.glassine-restore", zip_.filename().string()),
                   "handing out pictures") {}
    ~ZipHandout() override { abandon(); }

    std::string name() const override { return zip_.string(); }

    void check(const Need& need) override {
        if (!files_.find(folder()))
            throw Error(Cause::not_found, "hand out into", zip_.string(),
                        "the folder that it is to stand in is not there",
                        "check the path and that the drive is connected");
        for (const Path& path : {zip_, numbered(1)})
            if (files_.find(path)) throw taken(path);
        check_room_for_pictures(files_, folder(), zip_, need.bytes + room_to_spare);
    }

    Path standing(const std::string&) override { return {}; }
    void prepare() override { staging_.make(); }
    std::unique_ptr<File> create(const Item& item) override;

    Published publish() override {
        finish_part();
        Published published;
        for (std::size_t i = 1; i <= parts_; ++i) {
            const Path target = parts_ == 1 ? zip_ : numbered(i);
            files_.rename(staged_part(i), target);
            published.paths.push_back(target.string());
        }
        files_.sync_directory(folder());
        staging_.remove();
        return published;
    }

    void abandon() noexcept override {
        writer_.reset();
        out_.reset();
        staging_.remove();
    }

  private:
    class Waiting;

    Path folder() const { return zip_.has_parent_path() ? zip_.parent_path() : Path("."); }
    Path numbered(std::size_t part) const {
        return folder() /
               fmt::format("{}-{}{}", zip_.stem().string(), part, zip_.extension().string());
    }
    Path staged_part(std::size_t part) const {
        return staging_.path() / fmt::format("part-{}", part);
    }
    static Error taken(const Path& path) {
        return {Cause::exists, "hand out into", path.string(), "it is there already",
                "nothing is ever replaced: name another file"};
    }

    /// The writer with room for one more file; under the mutex.
    ZipWriter& writer_for(const ZipWriter::Entry& entry) {
        const std::uint64_t cost = ZipWriter::cost(entry.name, entry.size);
        if (writer_ && split_ > 0 && !writer_->empty() && writer_->size() + cost > split_)
            finish_part();
        if (!writer_) {
            out_ = files_.create(staged_part(++parts_));
            writer_ = std::make_unique<ZipWriter>(*out_);
        }
        return *writer_;
    }

    void finish_part() {
        if (!writer_) return;
        writer_->finish();
        out_->sync();
        out_->close();
        writer_.reset();
        out_.reset();
    }

    io::FileSystem& files_;
    Path zip_;
    std::uint64_t split_;
    StagingPlace staging_;

    std::atomic<std::uint64_t> in_memory_{0};
    std::atomic<std::size_t> spilled_{0};
    std::mutex mutex_;  ///< guards the writer
    std::size_t parts_ = 0;
    std::unique_ptr<io::OutputFile> out_;
    std::unique_ptr<ZipWriter> writer_;
};

/// A file that waits for its proof.
class ZipHandout::Waiting : public Receiver::File {
  public:
    Waiting(ZipHandout& owner, const Item& item) : owner_(owner) {
        entry_.name = item.name;
        entry_.modified = item.modified;
        memory_.reserve(static_cast<std::size_t>(std::min(item.size, waiting_memory / 4)));
    }
    ~Waiting() override { owner_.in_memory_ -= memory_.size(); }

    void append(std::span<const std::byte> bytes) override {
        entry_.crc = zip_crc(entry_.crc, bytes);
        entry_.size += bytes.size();
        if (!spill_ && !fits(bytes.size())) begin_spill();
        if (spill_) return spill_->append(bytes);
        memory_.insert(memory_.end(), bytes.begin(), bytes.end());
    }

    void keep() override {
        if (spill_) spill_->close();
        const std::lock_guard lock(owner_.mutex_);
        ZipWriter& writer = owner_.writer_for(entry_);
        writer.begin(entry_);
        writer.bytes(memory_);
        if (spill_) pour(writer);
    }

  private:
    bool fits(std::size_t more) {
        if (owner_.in_memory_.fetch_add(more) + more <= waiting_memory) return true;
        owner_.in_memory_ -= more;
        return false;
    }

    /// What came first stays in memory, the rest follows in a file.
    void begin_spill() {
        spill_path_ = owner_.staging_.path() / fmt::format("waiting-{}", ++owner_.spilled_);
        spill_ = owner_.files_.create(spill_path_);
    }

    void pour(ZipWriter& writer) {
        constexpr std::size_t step = 1u << 20;
        const auto file = owner_.files_.open(spill_path_, io::Cache::use);
        std::vector<std::byte> block(step);
        std::uint64_t at = 0;
        const std::uint64_t size = entry_.size - memory_.size();
        while (at < size) {
            const std::size_t got = file->read(at, block);
            if (got == 0)
                throw Error(Cause::changed, "write the ZIP file", spill_path_.string(),
                            "a file that waited to be written became shorter",
                            "run the command again");
            writer.bytes(std::span(block).first(got));
            at += got;
        }
        owner_.files_.remove_file(spill_path_);
    }

    ZipHandout& owner_;
    ZipWriter::Entry entry_;
    std::vector<std::byte> memory_;
    Path spill_path_;
    std::unique_ptr<io::OutputFile> spill_;
};

std::unique_ptr<Receiver::File> ZipHandout::create(const Item& item) {
    return std::make_unique<Waiting>(*this, item);
}

}  // namespace

std::unique_ptr<Handout> zip_handout(io::FileSystem& files, io::Path zip, std::uint64_t split) {
    return std::make_unique<ZipHandout>(files, std::move(zip), split);
}

}  // namespace glassine::flow
