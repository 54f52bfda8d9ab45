#include "glassine/flow/object_destination.h"

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

constexpr std::string_view declaration = "bagit.txt";
/// Memory for parts, beside what the river's blocks take.
constexpr std::uint64_t part_memory = 96u << 20;
/// Rounds of bringing again what turned out to be something else: one is enough for that.
constexpr int most_rounds = 3;

std::uint64_t memory_for(const store::Settings& settings, std::uint64_t largest_file) {
    const std::uint64_t part = store::part_size_for(largest_file, settings.part_size);
    return std::max(2 * part,
                    std::min<std::uint64_t>(part_memory, (settings.connections + 2) * part));
}

/// What is published: a bag, by its declaration; or one object, by a copy within the store.
enum class Sends { bag, single };

class ObjectDestination : public FileDestination, public Sink {
  public:
    ObjectDestination(io::FileSystem& files, store::Client& client, Address folder,
                      std::string name, Sends sends)
        : files_(files),
          client_(client),
          sends_(sends),
          folder_(std::move(folder)),
          name_(std::move(name)),
          root_(sends == Sends::bag ? folder_.below(name_) : folder_),
          staging_(folder_.below(staging_name(name_))) {}

    ~ObjectDestination() override { sender_.reset(); }

    std::string name() const override { return folder_.text(); }
    std::string published_path() const override { return folder_.below(name_).text(); }
    io::Path staged() const override { return address_of(name_).text(); }

    void check(const Need& need) override {
        client_.check_bucket(folder_.bucket);
        check_limits(need);
        largest_file_ = need.largest_file;
        const bool taken = sends_ == Sends::bag ? client_.find(root_.below(declaration)).has_value()
                                                : client_.find(folder_.below(name_)).has_value();
        if (taken) throw already_there();
        if (sends_ == Sends::bag && !has_mark() && has_anything_below(root_))
            throw Error(Cause::exists, "seal the bag", published_path(),
                        "objects stand there that are no bag, and no earlier run left them",
                        "move them away, or give this job another description");
    }

    void prepare() override {
        const std::string mark = fmt::format("{}\n", rfc3339(files_.now()));
        leftovers_ = find_leftovers(client_, root_, sends_ == Sends::bag, staging_);
        client_.put(staging_.below(mark_name), std::as_bytes(std::span(mark)), {});
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
        if (name == declaration) {
            const std::lock_guard lock(mutex_);
            declaration_ = content;
        }
        record({std::string(name), content.size()});
        upload->finish(true);
    }

    void withdraw(std::string_view name) override {
        sender_->wait();
        client_.remove(address_of(name));
        const std::lock_guard lock(mutex_);
        std::erase_if(written_, [&](const Written& written) { return written.name == name; });
        waiting_.erase(std::string(name));
        etags_.erase(std::string(name));
    }

    std::string give_back(std::string_view name) override {
        sender_->wait();
        rethrow();
        const Address address = address_of(name);
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
                wrong.push_back(address_of(name));
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
            item.path = address_of(written_[i].name).text();
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
        for (const Address& below : {root_, staging_})
            for_each_object(client_, below.bucket, below.key + "/",
                            [&](const store::ObjectInfo& o) { there.emplace(o.key, o.etag); });
        std::vector<std::string> differing;
        for (const Written& w : written_) {
            const auto at = there.find(address_of(w.name).key);
            if (at == there.end() || etags_[w.name].empty() || at->second != etags_[w.name])
                differing.push_back(w.name);
        }
        return differing;
    }

    const std::vector<Written>& written() const override { return written_; }

    void publish() override {
        if (sends_ == Sends::bag)
            publish_bag();
        else
            publish_single();
        clear_staging();
    }

    /// What was sent stays, for the next run to go on from.
    void abandon() noexcept override {
        if (sender_) sender_->wait();
    }

  private:
    static constexpr std::string_view mark_name = "begun";

    /// One file as the river brings it.
    class Sending : public Stream {
      public:
        Sending(ObjectDestination& destination, const Item& item, bool may_leave_out)
            : destination_(destination),
              name_(item.name),
              upload_(destination.begin(item.name, item.size, item.modified, may_leave_out)) {}
        void block(std::uint64_t, std::span<const std::byte> bytes) override {
            upload_->append(bytes);
            if (name_ == declaration)
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

    /// The declaration waits beside the bag until everything else is proven, and so does an object
    /// that is published by itself.
    Address address_of(std::string_view name) const {
        if (sends_ == Sends::single || name == declaration) return staging_.below(name);
        return root_.below(name);
    }

    std::shared_ptr<ObjectUpload> begin(const std::string& name, std::uint64_t size,
                                        Timestamp modified, bool may_leave_out) {
        rethrow();
        const Address address = address_of(name);
        if (address.key.size() > store::longest_key) throw too_long(address.key.size());
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
            client_, *sender_, address_of(name), size, options, std::move(leftover), may_leave_out,
            [this, name](ObjectUpload& upload, const ObjectUpload::Ending& ending) {
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
        if (name != declaration) return;
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

    Error already_there() const {
        return {Cause::exists, "seal the bag", published_path(),
                sends_ == Sends::bag ? "a bag of that name is there already"
                                     : "an object of that name is there already",
                "nothing is ever replaced: audit what is there, or give this job another "
                "description"};
    }

    Error too_long(std::size_t bytes) const {
        return {Cause::not_supported, "write to the destination", folder_.text(),
                fmt::format("a name there would have {} bytes, and the store's names end at {}",
                            bytes, store::longest_key),
                "shorten the names of the job's folders and files, or the folder in the store; "
                "nothing was written"};
    }

    void check_limits(const Need& need) const {
        const std::size_t longest = root_.key.size() + 1 + need.longest_name;
        if (longest > store::longest_key) throw too_long(longest);
        if (need.largest_file > store::largest_object)
            throw Error(Cause::not_supported, "write to the destination", folder_.text(),
                        fmt::format("the job has a file of {}, and a store's objects end at {}",
                                    text::human_bytes(need.largest_file),
                                    text::human_bytes(store::largest_object)),
                        "name a folder on a drive; nothing was written");
    }

    bool has_mark() const { return client_.find(staging_.below(mark_name)).has_value(); }

    bool has_anything_below(const Address& address) const {
        return !client_.list(address.bucket, address.key + "/", "", "", 1).objects.empty();
    }

    /// Everything else is there and proven: the declaration makes it a bag. Looked for before and
    /// after, since not every store honours the condition.
    void publish_bag() {
        remove_strays();
        const Address last = root_.below(declaration);
        if (client_.find(last)) throw already_there();
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

    void publish_single() {
        const Address to = folder_.below(name_);
        if (client_.find(to)) throw already_there();
        client_.copy(staging_.below(name_), to);
    }

    /// What an interrupted run left and this one has no use for.
    void remove_strays() {
        std::set<std::string> wanted;
        for (const Written& w : written_)
            wanted.insert(address_of(w.name).key);
        std::vector<Address> strays;
        for_each_object(client_, root_.bucket, root_.key + "/", [&](const store::ObjectInfo& o) {
            if (!wanted.contains(o.key)) strays.push_back({root_.bucket, o.key});
        });
        for (const Address& stray : strays)
            client_.remove(stray);
        abandon_uploads(client_, root_);
    }

    void clear_staging() {
        abandon_uploads(client_, staging_);
        std::vector<Address> left;
        for_each_object(client_, staging_.bucket, staging_.key + "/",
                        [&](const store::ObjectInfo& o) {
                            left.push_back({staging_.bucket, o.key});
                        });
        for (const Address& address : left)
            client_.remove(address);
    }

    io::FileSystem& files_;
    store::Client& client_;
    Sends sends_;
    Address folder_;
    std::string name_;
    Address root_;     ///< what names are below
    Address staging_;  ///< what stands there only until the bag is published
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
                                               std::move(bag_name), Sends::bag);
}

std::unique_ptr<FileDestination> single_object_destination(io::FileSystem& files,
                                                           store::Client& client,
                                                           store::Address folder,
                                                           std::string name) {
    return std::make_unique<ObjectDestination>(files, client, std::move(folder), std::move(name),
                                               Sends::single);
}

}  // namespace glassine::flow
