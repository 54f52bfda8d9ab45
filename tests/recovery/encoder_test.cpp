#include "glassine/recovery/encoder.h"

#include "recovery/small_bag.h"
#include "support/temp_folder.h"

#include <random>
#include <thread>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::recovery;
using namespace glassine::test;

namespace {

Contents some_files(unsigned seed) {
    std::mt19937 random(seed);
    Contents files;
    for (unsigned i = 0; i < 30; ++i) {
        files["data/originals/" + std::to_string(random() % 1000)] =
            noise(random() % (i % 9 == 0 ? 30000 : 700), i);
    }
    files["data/empty"] = "";
    files["data/exactly two blocks"] = noise(128, 1);
    return files;
}

/// Hands a file over in pieces of changing length.
void feed(Encoder& encoder, const std::string& name, const std::string& content, unsigned seed) {
    std::mt19937 random(seed);
    flow::Item item;
    item.name = name;
    const auto stream = encoder.open(item);
    REQUIRE(stream);
    for (std::size_t at = 0; at < content.size();) {
        const std::size_t length = std::min<std::size_t>(content.size() - at, 1 + random() % 200);
        stream->block(at, bytes_of(content).subspan(at, length));
        at += length;
    }
    stream->finish({});
}

std::string why(const std::function<void()>& action) {
    try {
        action();
    } catch (const Error& error) {
        return error.why();
    }
    return "";
}

}  // namespace

TEST_CASE("neither order nor pieces nor threads change a byte of the recovery files") {
    const Contents files = some_files(1);
    Options options = small_blocks();
    options.waiting_memory = 64 * 20;
    const Contents expected = recovery_for(files, options);
    CHECK(expected.size() == 1);
    for (unsigned trial = 0; trial < 12; ++trial) {
        KeepingSink sink;
        options.waiting_memory = 64 * (trial * 37 % 300);
        Encoder encoder(options, sizes_of(files, true), {&sink});
        std::vector<std::string> names;
        for (const auto& [name, content] : files)
            names.push_back(name);
        std::shuffle(names.begin(), names.end(), std::mt19937(trial));
        std::vector<std::thread> threads;
        for (unsigned t = 0; t < 3; ++t) {
            threads.emplace_back([&, t] {
                for (std::size_t i = t; i < names.size(); i += 3)
                    feed(encoder, names[i], files.at(names[i]), trial);
            });
        }
        for (auto& thread : threads)
            thread.join();
        const auto written = encoder.finish();
        CHECK(sink.kept == expected);
        REQUIRE(written.size() == 1);
        CHECK(written[0].size == expected.at(written[0].name).size());
        CHECK(encoder.expected_bytes() == written[0].size);
    }
}

TEST_CASE("large jobs are written window by window while they are read") {
    const Contents files = some_files(2);
    Options options = small_blocks();
    options.window_memory = 64 * 20;
    KeepingSink sink;
    Encoder encoder(options, sizes_of(files, true), {&sink});
    REQUIRE(encoder.windows().size() > 3);
    std::size_t sets = 0;
    for (const auto& set : encoder.reading_sets()) {
        for (const auto name : set)
            feed(encoder, std::string(name), files.at(std::string(name)), 1);
        if (++sets == 2) CHECK(!sink.kept.empty());
    }
    const auto written = encoder.finish();
    CHECK(written.size() == encoder.windows().size());
    for (const auto& window : encoder.windows()) {
        const std::string name = file_name(window.group, window.number);
        CHECK(sink.kept.at(name).size() == file_size(window));
    }
}

TEST_CASE("windows read out of turn are refused, not held in memory") {
    const Contents files = some_files(2);
    Options options = small_blocks();
    options.window_memory = 64 * 20;
    KeepingSink sink;
    Encoder encoder(options, sizes_of(files, true), {&sink});
    auto sets = encoder.reading_sets();
    std::reverse(sets.begin(), sets.end());
    const auto backwards = [&] {
        for (const auto& set : sets)
            feed(encoder, std::string(set[0]), files.at(std::string(set[0])), 1);
    };
    CHECK(why(backwards) == "the files of the window before it have not all come");
}

TEST_CASE("tag files get recovery data of their own, the payload's stays as it is") {
    Contents files = some_files(3);
    const Contents payload_only = recovery_for(files, small_blocks());
    files["bagit.txt"] = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
    files["manifest-sha512.txt"] = noise(3000, 5);
    const Contents both = recovery_for(files, small_blocks());
    REQUIRE(both.size() == 2);
    CHECK(both.at("recovery/payload-0001.recovery") ==
          payload_only.at("recovery/payload-0001.recovery"));
    CHECK(both.contains("recovery/tags-0001.recovery"));
}

TEST_CASE("files that are not what was listed fail clearly") {
    const std::vector<FileSize> listed{{"data/a", 100}, {"data/b", 64}};
    const auto with = [&](const std::function<void(Encoder&)>& action) {
        KeepingSink sink;
        Encoder encoder(small_blocks(), listed, {&sink});
        return why([&] { action(encoder); });
    };
    CHECK(with([](Encoder& e) { feed(e, "data/a", noise(99, 1), 1); }) ==
          "it was listed with 100 bytes and has 99");
    CHECK(with([](Encoder& e) { feed(e, "data/b", "", 1); }) ==
          "it was listed with 64 bytes and has 0");
    CHECK(with([](Encoder& e) { e.put("data/b", noise(65, 1)); }) ==
          "it was listed with 64 bytes and has 65 or more");
    CHECK(with([](Encoder& e) {
              e.put("data/a", noise(100, 1)), e.put("data/a", noise(100, 1));
          }) == "the file came twice");
    CHECK(with([](Encoder& e) { e.put("data/c", "x"); }) == "the file was not listed");
    CHECK(with([](Encoder& e) { e.finish(); }) == "the file did not come");
    CHECK(with([](Encoder& e) {
              flow::Item item;
              item.name = "data/a";
              e.open(item)->block(64, bytes_of(noise(36, 1)));
          }) == "its bytes did not come in order");
}

TEST_CASE("a file with a gap or one that is cut off leaves the recovery data open") {
    KeepingSink sink;
    Encoder encoder(small_blocks(), {{"data/a", 100}, {"data/b", 64}}, {&sink});
    encoder.put("data/b", noise(64, 1));
    flow::Item item;
    item.name = "data/a";
    const auto stream = encoder.open(item);
    stream->block(0, bytes_of(noise(64, 1)));
    stream->gap(64, 36);
    flow::Outcome outcome;
    outcome.status = flow::Status::gaps;
    stream->finish(outcome);
    CHECK(why([&] { encoder.finish(); }) == "the file could not be read to its end");
    CHECK(sink.kept.empty());
}

TEST_CASE("files that are not listed are not wanted") {
    KeepingSink sink;
    Encoder encoder(small_blocks(), {{"data/a", 1}}, {&sink});
    flow::Item item;
    item.name = "data/other";
    CHECK(encoder.open(item) == nullptr);
}

TEST_CASE("a bag of empty files has recovery data that knows their names") {
    const Contents files{{"data/a", ""}, {"data/b", ""}};
    const Contents recovery = recovery_for(files, small_blocks());
    REQUIRE(recovery.size() == 1);
    CHECK(recovery.begin()->second.find("data/b") != std::string::npos);
}
