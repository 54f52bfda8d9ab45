#include "glassine/photo/picture_sink.h"

#include "damage.h"
#include "glassine/flow/river.h"
#include "pictures.h"
#include "support/fault_file_system.h"
#include "support/temp_folder.h"

#include <filesystem>
#include <map>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::photo;
using glassine::test::bytes_of;

namespace {

/// A small job on disk, of every kind, whole and damaged.
class Job {
  public:
    Job() {
        demo::Shot shot;
        std::mt19937 random(77);
        for (int i = 0; i < 6; ++i) {
            shot.scene = shot.grain = static_cast<std::uint64_t>(i + 1);
            shot.serial = std::to_string(40001000 + i);
            const std::string n = std::to_string(i);
            add("b" + n + ".jpg", demo::jpeg(shot, {.width = 700, .height = 467}));
            add("p" + n + ".jpg",
                demo::jpeg(shot, {.width = 700, .height = 467, .progressive = true}));
            add("r" + n + ".dng",
                demo::dng(
                    shot,
                    {.width = 300, .height = 200, .preview_width = 1200, .preview_height = 800}));
            add("t" + n + ".tif",
                demo::tiff(shot, {.width = 300, .height = 200, .packing = demo::TiffPacking::lzw}));
            add("d" + n + ".jpg", test::damaged(files_.at("b" + n + ".jpg"), random).file);
        }
        add("a.png", demo::png(shot));
        add("a.heic", demo::heif(shot, {.width = 96, .height = 64}));
        add("a.xmp", demo::xmp_packet({.rating = 4}));
        add("empty.jpg", "");
        add("tiny.jpg", "\xff\xd8");
        add("notes.txt",
            "notes that are long enough to be looked at by their first sixty-four bytes");
    }

    void add(const std::string& name, const std::string& content) {
        files_[name] = content;
        flow::Item item;
        item.id = items.size();
        item.name = name;
        item.path = folder.write(name, content);
        item.size = content.size();
        items.push_back(item);
    }
    const std::string& content(const std::string& name) const { return files_.at(name); }

    test::TempFolder folder;
    std::vector<flow::Item> items;

  private:
    std::map<std::string, std::string> files_;
};

struct Seen {
    std::map<std::string, Examined> pictures;
    std::size_t reports = 0;
    std::size_t read_again = 0;
};

Seen run(io::FileSystem& files, const Job& job, std::size_t memory, std::size_t block_size) {
    Seen seen;
    PictureSink::Options options;
    options.memory = memory;
    options.wishes = [](const flow::Item&) { return Wishes{160, true}; };
    PictureSink sink(
        files,
        [&](const flow::Item& item, const flow::Outcome&, Examined&& examined) {
            ++seen.reports;
            seen.pictures[item.name] = std::move(examined);
        },
        options);
    flow::Options river;
    river.resources.threads = 3;
    river.resources.block_size = block_size;
    river.resources.blocks = 8;
    flow::Sink* const sinks[] = {&sink};
    const flow::Result result = flow::River(files).run(flow::reading_of(job.items), sinks, river);
    CHECK(result.sink_failures.empty());
    sink.complete();
    seen.read_again = sink.read_again();
    return seen;
}

}  // namespace

TEST_CASE("pictures are the same in the river as in the hand, whatever the memory") {
    const Job job;
    std::map<std::string, Examined> in_hand;
    for (const flow::Item& item : job.items)
        in_hand[item.name] = examine(bytes_of(job.content(item.name)), item.name, {160, true});
    for (const std::size_t memory : {std::size_t{64} << 20, std::size_t{1} << 16}) {
        for (const std::size_t block : {std::size_t{4096}, std::size_t{64} << 10}) {
            const Seen seen = run(io::posix_file_system(), job, memory, block);
            CHECK(seen.reports == job.items.size());
            for (const auto& [name, expected] : in_hand) {
                INFO(name << ": " << expected.picture.why);
                const Examined& found = seen.pictures.at(name);
                CHECK(found.picture == expected.picture);
                CHECK(found.thumbnail == expected.thumbnail);
                CHECK(found.proxy == expected.proxy);
                CHECK_FALSE(found.unstable);
            }
            // With room for all of them nothing is read a second time; with little, what cannot be
            // decoded as it comes is.
            if (memory > (1u << 20))
                CHECK(seen.read_again == 0);
            else
                CHECK(seen.read_again > 0);
        }
    }
}

TEST_CASE("a file with unreadable sectors gets no verdict") {
    Job job;
    demo::Shot shot;
    job.add("big.jpg", demo::jpeg(shot, {.width = 1600, .height = 1067, .quality = 97}));
    test::FaultFileSystem files(io::posix_file_system());
    files.damage("big.jpg", 12);
    files.damage("r3.dng", 5);
    const Seen seen = run(files, job, std::size_t{64} << 20, 8192);
    CHECK(seen.reports == job.items.size());
    for (const char* name : {"big.jpg", "r3.dng"}) {
        const Picture& found = seen.pictures.at(name).picture;
        CHECK(found.verdict == Verdict::not_checkable);
        CHECK_FALSE(found.why.empty());
    }
    CHECK(seen.pictures.at("big.jpg").picture.kind == Kind::jpeg);
    CHECK(seen.pictures.at("r4.dng").picture.verdict == Verdict::whole);
}

TEST_CASE("a file that reads differently the second time is unstable") {
    const test::TempFolder folder;
    const std::string first = demo::dng({}, {.width = 96, .height = 64});
    std::string other = first;
    other[other.size() / 2] = static_cast<char>(other[other.size() / 2] ^ 4);
    const auto item = [&](std::size_t id, const std::string& name) {
        flow::Item out;
        out.id = id;
        out.name = name;
        out.path = folder.write(name, first);
        out.size = first.size();
        return out;
    };
    std::map<std::string, Examined> seen;
    PictureSink::Options options;
    options.memory = 1;  // one file at a time: the second one is put off
    PictureSink sink(
        io::posix_file_system(),
        [&](const flow::Item& of, const flow::Outcome&, Examined&& examined) {
            seen[of.name] = std::move(examined);
        },
        options);
    flow::Outcome whole;
    whole.bytes = first.size();
    const auto holder = sink.open(item(0, "a.dng"));
    holder->block(0, bytes_of(first));
    for (const auto& [id, name] :
         {std::pair{1, "b.dng"}, std::pair{2, "c.dng"}, std::pair{3, "d.dng"}}) {
        const auto stream = sink.open(item(id, name));
        stream->block(0, bytes_of(first));
        stream->finish(whole);
    }
    CHECK(seen.empty());
    test::write_file(folder / "b.dng", other);
    std::filesystem::remove(folder / "d.dng");
    holder->finish(whole);
    sink.complete();
    CHECK(sink.read_again() == 3);
    REQUIRE(seen.size() == 4);
    CHECK(seen.at("a.dng").picture.verdict == Verdict::whole);
    CHECK(seen.at("b.dng").unstable);
    CHECK(seen.at("b.dng").picture.verdict == Verdict::not_checkable);
    CHECK(seen.at("c.dng").picture.verdict == Verdict::whole);
    CHECK_FALSE(seen.at("c.dng").unstable);
    CHECK(seen.at("d.dng").picture.verdict == Verdict::not_checkable);
    CHECK_FALSE(seen.at("d.dng").picture.why.empty());
}
