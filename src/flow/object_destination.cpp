#include "glassine/flow/object_destination.h"

#include "flow/object_place.h"
#include "flow/object_upload.h"
#include "flow/store_leftovers.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <set>
#include <utility>

#include <fmt/format.h>

namespace glassine::flow {
namespace {

using store::Address;

/// Memory for parts, beside what the river's blocks take.
constexpr std::uint64_t part_memory = 96u << 20;
/// Rounds of bringing again what turned out to be something else: one is enough for that.
constexpr int most_rounds = 3;

std::uint64_t memory_for(const store::Settings& settings, std::uint64_t largest_file) {
    const std::uint64_t part = store::part_size_for(largest_file, settings.part_size);
    return std::max(2 * part,
                    std::min<std::uint64_t>(part_memory, (settings.connections + 2) * part));
}

class ObjectDestination : public FileDestination, public Sink {
  public:
    ObjectDestination(io::FileSystem& files, store::Client& client, Address folder,
                      std::string name, ObjectPlace::Holds holds)
        : files_(files),
          client_(client),
          place_(client, std::move(folder), std::move(name), holds) {}

    ~ObjectDestination() override { sender_.reset(); }

    std::string name() const override { return place_.folder().text(); }
    std::string published_path() const override { return place_.published().text(); }
    io::Path staged() const override { return place_.staged().text(); }

    void check(const Need& need) override {
        place_.check(need);
        largest_file_ = need.largest_file;
    }

    void prepare() override {
        const std::string mark = fmt::format("{}\n", rfc3339(files_.now()));
        leftovers_ = place_.leftovers();
        place_.put_mark(mark);
        sender_ = std::make_unique<PartSender>(client_.settings().connections,
                                               memory_for(client_.settings(), largest_file_));
    }

    Sink& sink() override { return *this; }
    bool one_at_a_time() const override { return !may_lag_; }
    std::unique_ptr<Stream> open(const Item& item) override {
        if (item.name.empty()) return nullptr;
        return std::make_unique<Sending>(*this, item, may_lag_);
    }

    void put(std::string_view name, std::string_view content, Timestamp modified) override {
        const auto upload = begin(std::string(name), content.size(), modified, may_lag_);
        upload->append(std::as_bytes(std::span(content)));
        if (name == declaration_name) {
            const std::lock_guard lock(mutex_);
            declaration_ = content;
        }
        record({std::string(name), content.size()});
        upload->finish(true);
    }

    void withdraw(std::string_view name) override {
        sender_->wait();
        client_.remove(place_.address_of(name));
        const std::lock_guard lock(mutex_);
        std::erase_if(written_, [&](const Written& written) { return written.name == name; });
        waiting_.erase(std::string(name));
        etags_.erase(std::string(name));
    }

    std::string give_back(std::string_view name) override {
        sender_->wait();
        rethrow();
        const Address address = place_.address_of(name);
        const auto object = client_.find(address);
        if (!object)
            throw Error(Cause::not_found, "read what was written", address.text(),
                        "it is not in the store yet", "run the command again");
        std::string content(static_cast<std::size_t>(object->size), '\0');
        const auto file = files_.open(address.text());
        content.resize(file->read(0, std::as_writable_bytes(std::span(content))));
        return content;
    }

    void allow_lag() override { may_lag_ = true; }
    bool lags() const override {
        const std::lock_guard lock(mutex_);
        return !waiting_.empty();
    }

    void catch_up(io::FileSystem& files, const io::Path& bag, const Options& options) override {
        for (int round = 0; round < most_rounds; ++round) {
            sender_->wait();
            rethrow();
            const std::vector<Item> items = waiting_items(files, bag);
            if (items.empty()) return;
            CatchingUp sink(*this);
            Sink* sinks[] = {&sink};
            const Result result = River(files).run(reading_of(items), sinks, options);
            if (!result.sink_failures.empty()) throw Error(result.sink_failures.front().error);
            if (result.cancelled) return;
        }
    }

    void sync() override {
        sender_->wait();
        rethrow();
        std::vector<Address> wrong;
        {
            const std::lock_guard lock(mutex_);
            for (const auto& [name, leftover] : waiting_)
                wrong.push_back(place_.address_of(name));
        }
        if (wrong.empty()) return;
        for (const Address& address : wrong)
            client_.remove(address);
        throw Error(Cause::changed, "go on from what an interrupted run left", name(),
                    fmt::format("{} there {} not of this job, the first of them {}",
                                text::counted(wrong.size(), "object"),
                                wrong.size() == 1 ? "is" : "are", wrong.front().key),
                    "they were taken away; run the command again");
    }

    Result read_back(std::span<Sink* const> sinks, const Options& options) override {
        Reading reading;
        reading.count = written_.size();
        for (const Written& w : written_)
            reading.total_bytes += w.bytes;
        reading.item = [this](std::size_t i) {
            Item item;
            item.id = i;
            item.path = place_.address_of(written_[i].name).text();
            item.name = written_[i].name;
            item.size = written_[i].bytes;
            return item;
        };
        Options fetching = options;
        fetching.cache = io::Cache::bypass;
        return River(files_).run(reading, sinks, fetching);
    }

    std::optional<std::vector<std::string>> compare_checksums() override {
        if (client_.settings().proof != store::Proof::store_checksum) return std::nullopt;
        std::map<std::string, std::string> there;
        for (const Address& below : {place_.root(), place_.staging()})
            for_each_object(client_, below.bucket, below.key + "/",
                            [&](const store::ObjectInfo& o) { there.emplace(o.key, o.etag); });
        std::vector<std::string> differing;
        for (const Written& w : written_) {
            const auto at = there.find(place_.address_of(w.name).key);
            if (at == there.end() || etags_[w.name].empty() || at->second != etags_[w.name])
                differing.push_back(w.name);
        }
        return differing;
    }

    const std::vector<Written>& written() const override { return written_; }

    void publish() override {
        if (place_.holds() == ObjectPlace::Holds::bag)
            publish_bag();
        else
            place_.publish_single();
        place_.clear_staging();
    }

    /// What was sent stays, for the next run to go on from.
    void abandon() noexcept override {
        if (sender_) sender_->wait();
    }

  private:
    /// One file as the river brings it.
    class Sending : public Stream {
      public:
        Sending(ObjectDestination& destination, const Item& item, bool may_leave_out)
            : destination_(destination),
              name_(item.name),
              upload_(destination.begin(item.name, item.size, item.modified, may_leave_out)) {}
        void block(std::uint64_t, std::span<const std::byte> bytes) override {
            upload_->append(bytes);
            if (name_ == declaration_name)
                text_.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
        }
        void finish(const Outcome& outcome) override {
            destination_.keep_declaration(name_, text_);
            destination_.record({name_, outcome.bytes});
            upload_->finish(outcome.status != Status::cancelled);
        }

      private:
        ObjectDestination& destination_;
        std::string name_;
        std::shared_ptr<ObjectUpload> upload_;
        std::string text_;
    };

    /// What was left out, brought again: now the reading waits for the line.
    class CatchingUp : public Sink {
      public:
        explicit CatchingUp(ObjectDestination& destination) : destination_(destination) {}
        std::unique_ptr<Stream> open(const Item& item) override {
            return std::make_unique<Again>(destination_.begin_again(item));
        }
        bool one_at_a_time() const override { return true; }

      private:
        class Again : public Stream {
          public:
            explicit Again(std::shared_ptr<ObjectUpload> upload) : upload_(std::move(upload)) {}
            void block(std::uint64_t, std::span<const std::byte> bytes) override {
                upload_->append(bytes);
            }
            void finish(const Outcome& outcome) override {
                upload_->finish(outcome.status == Status::whole);
            }

          private:
            std::shared_ptr<ObjectUpload> upload_;
        };
        ObjectDestination& destination_;
    };

    std::shared_ptr<ObjectUpload> begin(const std::string& name, std::uint64_t size,
                                        Timestamp modified, bool may_leave_out) {
        rethrow();
        const Address address = place_.address_of(name);
        place_.check_key(address);
        Leftover leftover;
        {
            const std::lock_guard lock(mutex_);
            if (const auto at = leftovers_.find(address.key); at != leftovers_.end())
                leftover = std::move(at->second);
            leftovers_.erase(address.key);
        }
        return make_upload(name, size, modified, std::move(leftover), may_leave_out);
    }

    std::shared_ptr<ObjectUpload> begin_again(const Item& item) {
        Leftover leftover;
        {
            const std::lock_guard lock(mutex_);
            const auto at = waiting_.find(item.name);
            leftover = std::move(at->second);
            waiting_.erase(at);
        }
        return make_upload(item.name, item.size, item.modified, std::move(leftover), false);
    }

    std::shared_ptr<ObjectUpload> make_upload(const std::string& name, std::uint64_t size,
                                              Timestamp modified, Leftover leftover,
                                              bool may_leave_out) {
        store::PutOptions options;
        if (modified != Timestamp{}) options.file_time = modified;
        return std::make_shared<ObjectUpload>(
            client_, *sender_, place_.address_of(name), size, options, std::move(leftover),
            may_leave_out, [this, name](ObjectUpload& upload, const ObjectUpload::Ending& ending) {
                note_ending(name, upload, ending);
            });
    }

    void note_ending(const std::string& name, ObjectUpload& upload,
                     const ObjectUpload::Ending& ending) {
        Leftover leftover = ending.left_out ? upload.take_leftover() : Leftover{};
        const std::lock_guard lock(mutex_);
        if (ending.failure) {
            if (!failure_) failure_ = ending.failure;
        } else if (ending.left_out) {
            waiting_.insert_or_assign(name, std::move(leftover));
        } else {
            etags_.insert_or_assign(name, ending.etag);
        }
    }

    std::vector<Item> waiting_items(io::FileSystem& files, const io::Path& bag) const {
        std::vector<std::string> names;
        {
            const std::lock_guard lock(mutex_);
            for (const auto& [name, leftover] : waiting_)
                names.push_back(name);
        }
        std::vector<Item> items;
        for (const std::string& name : names) {
            const io::FileInfo info = files.info(bag / name);
            items.push_back(
                {items.size(), (bag / name).string(), name, info.size, info.modified, true});
        }
        return items;
    }

    void keep_declaration(const std::string& name, const std::string& content) {
        if (name != declaration_name) return;
        const std::lock_guard lock(mutex_);
        declaration_ = content;
    }

    void record(Written written) {
        const std::lock_guard lock(mutex_);
        written_.push_back(std::move(written));
    }

    void rethrow() const {
        const std::lock_guard lock(mutex_);
        if (failure_) throw Error(*failure_);
    }

    /// Everything else is there and proven: the declaration makes it a bag. Looked for before and
    /// after, since not every store honours the condition.
    void publish_bag() {
        std::set<std::string> wanted;
        for (const Written& w : written_)
            wanted.insert(place_.address_of(w.name).key);
        place_.remove_strays(wanted);
        const Address last = place_.published().below(declaration_name);
        if (client_.find(last)) throw place_.already_there();
        const auto bytes = std::as_bytes(std::span(declaration_));
        store::PutOptions options;
        options.only_new = true;
        client_.put(last, bytes, options);
        std::string there(declaration_.size() + 1, '\0');
        const auto file = files_.open(last.text());
        there.resize(file->read(0, std::as_writable_bytes(std::span(there))));
        if (there != declaration_)
            throw Error(Cause::exists, "seal the bag", published_path(),
                        "another run has sealed a bag of that name in the same moment",
                        "audit what is there");
    }

    io::FileSystem& files_;
    store::Client& client_;
    ObjectPlace place_;
    std::uint64_t largest_file_ = 0;
    bool may_lag_ = false;

    mutable std::mutex mutex_;                   ///< guards what follows
    std::map<std::string, Leftover> leftovers_;  ///< by key
    std::map<std::string, Leftover> waiting_;    ///< left out, by name
    std::map<std::string, std::string> etags_;   ///< as the store's should be, by name
    std::vector<Written> written_;
    std::string declaration_;
    std::optional<Error> failure_;

    std::unique_ptr<PartSender> sender_;  ///< last: its threads use the rest
};

}  // namespace

std::unique_ptr<Destination> object_destination(io::FileSystem& files, store::Client& client,
                                                store::Address folder, std::string bag_name) {
    return std::make_unique<ObjectDestination>(files, client, std::move(folder),
                                               std::move(bag_name), ObjectPlace::Holds::bag);
}

std::unique_ptr<FileDestination> single_object_destination(io::FileSystem& files,
                                                           store::Client& client,
                                                           store::Address folder,
                                                           std::string name) {
    return std::make_unique<ObjectDestination>(files, client, std::move(folder), std::move(name),
                                               ObjectPlace::Holds::single);
}

}  // namespace glassine::flow
