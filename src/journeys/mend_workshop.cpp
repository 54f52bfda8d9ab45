#include "journeys/mend_workshop.h"

#include "glassine/base/text.h"
#include "glassine/io/files.h"

#include <algorithm>
#include <set>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

constexpr const char* healing_log = "healing.txt";
constexpr const char* quarantine_mark = ".quarantine-";

/// "20261125T110644Z": a moment in a folder's name, without characters that some file systems
/// refuse.
std::string compact(Timestamp moment) {
    std::string text = rfc3339(moment);
    std::erase_if(text, [](char c) { return c == '-' || c == ':'; });
    return text;
}

io::Path beside(const io::Path& bag, const std::string& name) {
    return bag.parent_path() / name;
}

io::Path workshop_of(const io::Path& bag) {
    return beside(bag, fmt::format(".{}.glassine-mending", bag.filename().string()));
}

/// Two runs within one second have a folder each.
io::Path new_name(io::FileSystem& files, const io::Path& wanted) {
    io::Path name = wanted;
    for (int i = 2; files.find(name); ++i)
        name = fmt::format("{}-{}", wanted.string(), i);
    return name;
}

/// Hands a file's bytes on, piece by piece.
template <typename Take>
void read_through(io::FileSystem& files, const io::Path& path, const Take& take) {
    constexpr std::size_t block = 1u << 20;
    const auto file = files.open(path, io::Cache::use);
    std::vector<std::byte> memory(block);
    for (std::uint64_t offset = 0;;) {
        const std::size_t n = file->read(offset, memory);
        if (n == 0) return;
        take(std::span(memory.data(), n));
        offset += n;
    }
}

}  // namespace

/// One file on its way into the workshop: written, hashed, and kept only when proven.
class MendWorkshop::Writing {
  public:
    Writing(MendWorkshop& workshop, std::string name, const Proof& proof)
        : workshop_(workshop),
          name_(std::move(name)),
          proof_(proof),
          hasher_(proof.algorithm),
          file_(workshop.create(name_)) {}

    void bytes(std::span<const std::byte> bytes) {
        hasher_.update(bytes);
        file_->append(bytes);
    }

    bool finish(Ready ready) {
        const bool proven = hasher_.finish() == proof_.digest;
        if (proven) file_->sync();
        file_->close();
        if (proven)
            workshop_.ready_[name_] = std::move(ready);
        else
            workshop_.discard(name_);
        return proven;
    }

  private:
    MendWorkshop& workshop_;
    std::string name_;
    Proof proof_;
    digest::Hasher hasher_;
    std::unique_ptr<io::OutputFile> file_;
};

class MendWorkshop::Receiver : public recovery::HealedFiles {
  public:
    Receiver(MendWorkshop& workshop, const Proofs& proofs) : workshop_(workshop), proofs_(proofs) {}

    void begin(const std::string& name, std::uint64_t) override {
        writing_.reset();
        // A file that no manifest proves cannot be told right from wrong: it is left alone.
        if (const Proof* proof = proofs_.find(name))
            writing_ = std::make_unique<Writing>(workshop_, name, *proof);
    }
    void bytes(std::span<const std::byte> bytes) override {
        if (writing_) writing_->bytes(bytes);
    }
    void end(const recovery::Healed& healed) override {
        if (!writing_) return;
        Ready ready;
        ready.from = healed.blocks_from_copies == 0 ? "recovery data"
                     : healed.blocks_rebuilt == 0   ? "other copies"
                                                    : "recovery data and other copies";
        for (const recovery::Change& change : healed.changes)
            ready.changes.push_back(recovery::describe(change));
        const bool proven = writing_->finish(std::move(ready));
        workshop_.contradicted_ |= !proven && !is_payload(healed.name);
        writing_.reset();
    }
    void failed(const std::string& name, const std::string&) override {
        if (!writing_) return;
        writing_.reset();
        workshop_.discard(name);
    }

  private:
    MendWorkshop& workshop_;
    const Proofs& proofs_;
    std::unique_ptr<Writing> writing_;
};

bool is_quarantine(io::FileSystem& files, const io::Path& folder) {
    return folder.filename().string().find(quarantine_mark) != std::string::npos &&
           files.find(folder / healing_log).has_value();
}

MendWorkshop::MendWorkshop(io::FileSystem& files, io::Path bag)
    : files_(files),
      bag_(std::move(bag)),
      folder_(workshop_of(bag_)),
      quarantine_(
          new_name(files_, beside(bag_, fmt::format("{}{}{}", bag_.filename().string(),
                                                    quarantine_mark, compact(files.now()))))) {
    io::make_directories(files_, folder_);
    lock_ = files_.try_lock(folder_ / "lock");
    if (!lock_)
        throw Error(Cause::busy, "mend the bag", bag_.string(), "another run is mending it",
                    "wait for it to end");
    io::make_directories(files_, folder_ / "files");
}

MendWorkshop::~MendWorkshop() {
    // Cut off while a file changed places: the next run takes the healed one from here.
    if (swapping_) return;
    try {
        io::remove_tree(files_, folder_);
    } catch (const Error&) {
        // The next run clears it: what is in it is of use to nobody else.
        lock_.reset();
    }
}

io::Path MendWorkshop::staged(const std::string& name) const {
    return folder_ / "files" / name;
}

std::unique_ptr<io::OutputFile> MendWorkshop::create(const std::string& name) {
    io::make_directories(files_, staged(name).parent_path());
    if (files_.find(staged(name))) files_.remove_file(staged(name));
    return files_.create(staged(name));
}

void MendWorkshop::discard(const std::string& name) {
    ready_.erase(name);
    if (files_.find(staged(name))) files_.remove_file(staged(name));
}

bool MendWorkshop::has_leftovers(io::FileSystem& files, const io::Path& bag) {
    return files.find(workshop_of(bag)).has_value();
}

bool MendWorkshop::adopt(const std::string& name, const Proof& proof) {
    if (!files_.find(staged(name))) return false;
    if (digest_of_file(files_, staged(name), proof.algorithm) != proof.digest) return false;
    files_.sync_file(staged(name));
    ready_[name] = {"what an interrupted run had ready", {}};
    return true;
}

std::unique_ptr<recovery::HealedFiles> MendWorkshop::receiver(const Proofs& proofs) {
    return std::make_unique<Receiver>(*this, proofs);
}

bool MendWorkshop::take_copy(const std::string& name, const Proof& proof, const io::Path& source,
                             std::string from) {
    try {
        Writing writing(*this, name, proof);
        read_through(files_, source,
                     [&](std::span<const std::byte> bytes) { writing.bytes(bytes); });
        return writing.finish({std::move(from), {}});
    } catch (const Error& error) {
        discard(name);
        // A source that cannot be read is no source; a place that cannot be written ends the work.
        if (error.path() == source.string()) return false;
        throw;
    }
}

void MendWorkshop::make(const std::string& name, std::string_view content, std::string from) {
    const auto file = create(name);
    file->append(content);
    file->sync();
    file->close();
    ready_[name] = {std::move(from), {}};
}

bool MendWorkshop::make_from(const std::string& name, const Proof& proof, std::string from,
                             const std::function<void(flow::Sink&)>& write) {
    struct Branch : flow::Stream {
        Writing& writing;
        explicit Branch(Writing& w) : writing(w) {}
        void block(std::uint64_t, std::span<const std::byte> bytes) override {
            writing.bytes(bytes);
        }
        void finish(const flow::Outcome&) override {}
    };
    struct Pipe : flow::Sink {
        Writing& writing;
        explicit Pipe(Writing& w) : writing(w) {}
        std::unique_ptr<flow::Stream> open(const flow::Item&) override {
            return std::make_unique<Branch>(writing);
        }
    };
    Writing writing(*this, name, proof);
    Pipe pipe(writing);
    write(pipe);
    const bool proven = writing.finish({std::move(from), {}});
    contradicted_ |= !proven && !is_payload(name);
    return proven;
}

std::vector<report::HealedFile> MendWorkshop::put_in_place() {
    std::vector<report::HealedFile> healed;
    std::set<io::Path> folders;
    for (const auto& [name, ready] : ready_)
        folders.insert(staged(name).parent_path());
    for (const io::Path& folder : folders)
        files_.sync_directory(folder);
    for (auto& [name, ready] : ready_) {
        put_one(name, ready);
        healed.push_back({name, std::move(ready.from), std::move(ready.changes)});
    }
    ready_.clear();
    return healed;
}

void MendWorkshop::put_one(const std::string& name, const Ready& ready) {
    io::make_directories(files_, quarantine_);
    quarantine_used_ = true;
    clear_way(name);
    log(name, ready);
    io::make_directories(files_, (bag_ / name).parent_path());
    const auto old = files_.find(bag_ / name);
    if (old && old->type == io::FileType::regular) files_.set_modified(staged(name), old->modified);
    if (!old)
        files_.rename(staged(name), bag_ / name);
    else if (copy_aside(name))
        files_.replace(staged(name), bag_ / name);
    else
        swap(name);
    files_.sync_directory((bag_ / name).parent_path());
}

/// Whatever stands where a folder of the bag belongs goes to the quarantine. A link is not
/// followed: nothing outside the bag is touched, whatever the bag holds.
void MendWorkshop::clear_way(const std::string& name) {
    for (std::size_t at = name.find('/'); at != std::string::npos; at = name.find('/', at + 1)) {
        const std::string folder = name.substr(0, at);
        const auto there = files_.find(bag_ / folder);
        if (!there || there->type == io::FileType::directory) continue;
        io::make_directories(files_, aside(folder).parent_path());
        files_.rename(bag_ / folder, aside(folder));
        files_.sync_directory(aside(folder).parent_path());
    }
}

/// The ending keeps a quarantined bagit.txt from making this folder look like a bag.
io::Path MendWorkshop::aside(const std::string& name) const {
    return quarantine_ / (name + ".damaged");
}

/// Copies the damaged file into the quarantine; false when it is no file or cannot be read whole.
bool MendWorkshop::copy_aside(const std::string& name) {
    io::make_directories(files_, aside(name).parent_path());
    const io::FileInfo info = files_.info(bag_ / name);
    if (info.type != io::FileType::regular) return false;
    const auto copy = files_.create(aside(name));
    try {
        read_through(files_, bag_ / name,
                     [&](std::span<const std::byte> bytes) { copy->append(bytes); });
    } catch (const Error& error) {
        if (error.path() != (bag_ / name).string()) throw;
        copy->close();
        files_.remove_file(aside(name));
        return false;
    }
    copy->set_modified(info.modified);
    copy->sync();
    copy->close();
    files_.sync_directory(aside(name).parent_path());
    return true;
}

void MendWorkshop::swap(const std::string& name) {
    swapping_ = true;
    files_.rename(bag_ / name, aside(name));
    try {
        files_.sync_directory(aside(name).parent_path());
        files_.rename(staged(name), bag_ / name);
    } catch (const Error&) {
        files_.rename(aside(name), bag_ / name);
        swapping_ = false;
        throw;
    }
    swapping_ = false;
}

/// Written before a file takes its place: what was healed is never without its entry.
void MendWorkshop::log(const std::string& name, const Ready& ready) {
    std::string entry = fmt::format("{}  {}\n  healed from {}\n", rfc3339(files_.now()),
                                    text::for_terminal(name), text::for_terminal(ready.from));
    for (const std::string& change : ready.changes)
        entry += "  " + change + "\n";
    if (ready.changes.empty() && !files_.find(bag_ / name)) entry += "  the file was not there\n";
    const io::Path path = quarantine_ / healing_log;
    const bool is_new = !files_.find(path);
    const auto file = files_.append_to(path);
    file->append(entry);
    file->sync();
    file->close();
    if (is_new) files_.sync_directory(quarantine_);
}

std::string MendWorkshop::quarantine() const {
    return quarantine_used_ ? quarantine_.string() : std::string();
}

}  // namespace glassine::journeys
