#include "glassine/flow/river.h"

#include "glassine/flow/digest_sink.h"
#include "support/fault_file_system.h"
#include "support/temp_folder.h"

#include <algorithm>
#include <atomic>
#include <map>
#include <mutex>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include <catch2/catch.hpp>

using namespace glassine;
using flow::Status;

namespace {

/// Keeps what it is given and checks that the calls come in order.
class Keeper : public flow::Sink {
  public:
    explicit Keeper(bool one_at_a_time = false) : one_at_a_time_(one_at_a_time) {}

    class Keeping : public flow::Stream {
      public:
        Keeping(Keeper& keeper, std::string name) : keeper_(keeper), name_(std::move(name)) {}
        void block(std::uint64_t offset, std::span<const std::byte> bytes) override {
            if (offset != content_.size()) ++keeper_.disorder;
            content_.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
        }
        void gap(std::uint64_t offset, std::uint64_t length) override {
            if (offset != content_.size()) ++keeper_.disorder;
            content_.append(length, '?');
        }
        void finish(const flow::Outcome& outcome) override {
            const std::lock_guard lock(keeper_.mutex);
            keeper_.content[name_] = content_;
            keeper_.outcomes[name_] = outcome;
            keeper_.order.push_back(name_);
            --keeper_.open_now;
        }

      private:
        Keeper& keeper_;
        std::string name_;
        std::string content_;
    };

    std::unique_ptr<flow::Stream> open(const flow::Item& item) override {
        most_open = std::max(most_open.load(), ++open_now);
        return std::make_unique<Keeping>(*this, item.name);
    }
    bool one_at_a_time() const override { return one_at_a_time_; }

    std::mutex mutex;
    std::map<std::string, std::string> content;
    std::map<std::string, flow::Outcome> outcomes;
    std::vector<std::string> order;
    std::atomic<int> disorder{0};
    std::atomic<int> open_now{0};
    std::atomic<int> most_open{0};

  private:
    bool one_at_a_time_;
};

/// Fails once it has seen so many bytes: a destination that runs full.
class Full : public flow::Sink {
  public:
    explicit Full(std::uint64_t limit) : left_(static_cast<std::int64_t>(limit)) {}
    class Filling : public flow::Stream {
      public:
        explicit Filling(Full& full) : full_(full) {}
        void block(std::uint64_t, std::span<const std::byte> bytes) override {
            full_.left_ -= static_cast<std::int64_t>(bytes.size());
            if (full_.left_ < 0) throw Error(Cause::no_space, "write", "full", "no space");
        }
        void finish(const flow::Outcome&) override {}

      private:
        Full& full_;
    };
    std::unique_ptr<flow::Stream> open(const flow::Item&) override {
        return std::make_unique<Filling>(*this);
    }

  private:
    std::atomic<std::int64_t> left_;
};

struct Files {
    test::TempFolder folder;
    std::vector<flow::Item> items;
    std::map<std::string, std::string> expected;

    void add(const std::string& name, std::size_t size) {
        const std::string content = test::noise(size, static_cast<unsigned>(items.size() + 1));
        const io::Path path = folder.write(name, content);
        const io::FileInfo info = io::posix_file_system().info(path);
        items.push_back({items.size(), path, name, size, info.modified, true});
        expected[name] = content;
    }
};

flow::Options small_blocks() {
    flow::Options options;
    options.resources = {2, 8192, 6};
    return options;
}

}  // namespace

TEST_CASE("every sink gets every byte of every file in order") {
    Files files;
    for (const std::size_t size : {0u, 1u, 8191u, 8192u, 8193u, 16384u, 100'000u, 1'000'000u})
        files.add("f" + std::to_string(size), size);
    for (int i = 0; i < 300; ++i)
        files.add("small" + std::to_string(i), static_cast<std::size_t>(i) * 7);
    Keeper a;
    Keeper b(true);
    flow::Sink* sinks[] = {&a, &b};
    const auto result = flow::River(io::posix_file_system())
                            .run(flow::reading_of(files.items), sinks, small_blocks());
    CHECK(a.content == files.expected);
    CHECK(b.content == files.expected);
    CHECK(a.disorder + b.disorder == 0);
    CHECK(b.most_open == 1);
    CHECK(result.files == files.items.size());
    CHECK(result.sink_failures.empty());
    std::vector<std::string> names;
    for (const auto& item : files.items)
        names.push_back(item.name);
    std::ranges::sort(names);
    std::ranges::sort(b.order);
    CHECK(b.order == names);
}

TEST_CASE("several readers on a volume without moving parts give the same bytes") {
    Files files;
    for (int i = 0; i < 40; ++i)
        files.add("f" + std::to_string(i), 50'000 + static_cast<std::size_t>(i));
    test::FaultFileSystem system(io::posix_file_system());
    for (const bool rotates : {false, true}) {
        system.set_rotates(rotates);
        Keeper keeper;
        flow::Sink* sinks[] = {&keeper};
        flow::River(system).run(flow::reading_of(files.items), sinks, small_blocks());
        CHECK(keeper.content == files.expected);
    }
}

TEST_CASE("a sink that fails does not stop the others") {
    Files files;
    for (int i = 0; i < 10; ++i)
        files.add("f" + std::to_string(i), 40'000);
    Keeper keeper;
    Full full(100'000);
    flow::Sink* sinks[] = {&full, &keeper};
    const auto result = flow::River(io::posix_file_system())
                            .run(flow::reading_of(files.items), sinks, small_blocks());
    CHECK(keeper.content == files.expected);
    REQUIRE(result.sink_failures.size() == 1);
    CHECK(result.sink_failures[0].sink == &full);
    CHECK(result.sink_failures[0].error.cause() == Cause::no_space);
}

TEST_CASE("when every sink has failed, reading stops") {
    Files files;
    for (int i = 0; i < 200; ++i)
        files.add("f" + std::to_string(i), 40'000);
    Full full(10);
    flow::Sink* sinks[] = {&full};
    const auto result = flow::River(io::posix_file_system())
                            .run(flow::reading_of(files.items), sinks, small_blocks());
    CHECK(result.sink_failures.size() == 1);
    CHECK(result.bytes < 4'000'000);
}

TEST_CASE("unreadable sectors are fenced in, and everything around them is read") {
    Files files;
    files.add("damaged", 100'000);
    files.add("whole", 50'000);
    test::FaultFileSystem system(io::posix_file_system());
    for (const std::uint64_t sector : {3u, 4u, 10u, 24u})
        system.damage("damaged", sector);
    struct Heard : flow::Observer {
        std::vector<flow::ReadError> errors;
        void read_error(const flow::ReadError& error) override { errors.push_back(error); }
    } heard;
    auto options = small_blocks();
    options.observer = &heard;
    Keeper keeper;
    std::set<std::string> digested;
    flow::DigestSink digests({digest::Algorithm::sha256}, [&](const flow::Item& item, const auto&) {
        digested.insert(item.name);
    });
    flow::Sink* sinks[] = {&keeper, &digests};
    flow::River(system).run(flow::reading_of(files.items), sinks, options);

    const auto& outcome = keeper.outcomes["damaged"];
    CHECK(outcome.status == Status::gaps);
    CHECK(outcome.gaps == std::vector<flow::ByteRange>{{3 * 4096, 8192},
                                                       {10 * 4096, 4096},
                                                       {24 * 4096, 100'000 - 24 * 4096}});
    std::string expected = files.expected["damaged"];
    for (const auto& gap : outcome.gaps)
        expected.replace(gap.offset, gap.length, gap.length, '?');
    CHECK(keeper.content["damaged"] == expected);
    CHECK(keeper.content["whole"] == files.expected["whole"]);
    CHECK(heard.errors.size() == 4);
    CHECK(digested == std::set<std::string>{"whole"});
}

TEST_CASE("files that vanish, change or cannot be opened are outcomes") {
    Files files;
    files.add("vanished", 20'000);
    files.add("grown", 20'000);
    files.add("growing", 20'000);
    files.add("good", 20'000);
    std::filesystem::remove(files.folder / "vanished");
    test::write_file(files.folder / "grown", std::string(20'001, 'x'));
    test::FaultFileSystem system(io::posix_file_system());
    system.before_read("growing", [&](std::uint64_t offset) {
        if (offset == 8192) test::write_file(files.folder / "growing", std::string(30'000, 'y'));
    });
    Keeper keeper;
    flow::Sink* sinks[] = {&keeper};
    flow::River(system).run(flow::reading_of(files.items), sinks, small_blocks());
    CHECK(keeper.outcomes["vanished"].status == Status::vanished);
    CHECK(keeper.outcomes["grown"].status == Status::changed);
    CHECK(keeper.outcomes["growing"].status == Status::changed);
    CHECK(keeper.outcomes["good"].status == Status::whole);
}

TEST_CASE("a run can be stopped at any time") {
    Files files;
    for (int i = 0; i < 50; ++i)
        files.add("f" + std::to_string(i), 100'000);
    test::FaultFileSystem system(io::posix_file_system());
    std::stop_source stop;
    std::atomic<int> reads{0};
    system.before_read("", [&](std::uint64_t) {
        if (++reads == 20) stop.request_stop();
    });
    auto options = small_blocks();
    options.stop = stop.get_token();
    Keeper keeper;
    flow::Sink* sinks[] = {&keeper};
    const auto result = flow::River(system).run(flow::reading_of(files.items), sinks, options);
    CHECK(result.cancelled);
    CHECK(result.bytes < 500'000);
    CHECK(keeper.open_now == 0);
}

TEST_CASE("progress ends at the whole of bytes and files") {
    Files files;
    for (int i = 0; i < 5; ++i)
        files.add("f" + std::to_string(i), 10'000);
    struct Heard : flow::Observer {
        flow::Progress last;
        std::thread::id thread;
        void progress(const flow::Progress& p) override {
            last = p;
            thread = std::this_thread::get_id();
        }
    } heard;
    auto options = small_blocks();
    options.observer = &heard;
    flow::River(io::posix_file_system()).run(flow::reading_of(files.items), {}, options);
    CHECK(heard.last.bytes == 50'000);
    CHECK(heard.last.total_bytes == 50'000);
    CHECK(heard.last.files == 5);
    CHECK(heard.thread == std::this_thread::get_id());
}

TEST_CASE("one large file with two sinks keeps two threads busy at once") {
    Files files;
    files.add("large", 2'000'000);
    // Each stream waits, on its first block, until the other has one too: with one thread this
    // would never end.
    struct Meeting : flow::Sink {
        std::atomic<int>& here;
        explicit Meeting(std::atomic<int>& h) : here(h) {}
        struct Guest : flow::Stream {
            std::atomic<int>& here;
            bool first = true;
            explicit Guest(std::atomic<int>& h) : here(h) {}
            void block(std::uint64_t, std::span<const std::byte>) override {
                if (std::exchange(first, false)) ++here;
                while (here < 2)
                    std::this_thread::yield();
            }
            void finish(const flow::Outcome&) override {}
        };
        std::unique_ptr<flow::Stream> open(const flow::Item&) override {
            return std::make_unique<Guest>(here);
        }
    };
    std::atomic<int> here{0};
    Meeting a(here);
    Meeting b(here);
    flow::Sink* sinks[] = {&a, &b};
    flow::River(io::posix_file_system()).run(flow::reading_of(files.items), sinks, small_blocks());
    CHECK(here == 2);
}

TEST_CASE("the order on a rotating volume is that of the first extents") {
    Files files;
    for (int i = 0; i < 20; ++i)
        files.add("f" + std::to_string(i), 10'000);
    const auto reading = flow::reading_of(files.items);
    const auto order = flow::order_on_volume(io::posix_file_system(), reading);
    std::vector<std::size_t> sorted = order;
    std::ranges::sort(sorted);
    for (std::size_t i = 0; i < sorted.size(); ++i)
        CHECK(sorted[i] == i);
    std::vector<std::uint64_t> positions;
    for (const std::size_t i : order)
        positions.push_back(
            io::posix_file_system().open(files.items[i].path)->physical_position().value_or(~0ull));
    CHECK(std::ranges::is_sorted(positions));
}
