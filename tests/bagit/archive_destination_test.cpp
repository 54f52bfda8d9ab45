#include "glassine/bagit/archive_destination.h"

#include "bag_builder.h"
#include "bagit/archive_writer.h"
#include "glassine/bagit/archive.h"
#include "glassine/flow/digest_sink.h"
#include "support/fault_file_system.h"

#include <cstdlib>

using namespace glassine;
using namespace glassine::test;
using bagit::ArchiveForm;
namespace fs = std::filesystem;

namespace {

constexpr Timestamp when{1'700'000'000'123'456'789};
const std::string bag = "2025-09-06_okafor_sailing-gala";

/// Sizes around the blocks of tar (512) and of the river, and names that are easily broken.
std::map<std::string, std::string> contents() {
    std::map<std::string, std::string> files;
    for (const std::size_t size : {1u, 511u, 512u, 513u, 4096u, 700'000u})
        files["data/" + std::to_string(size)] = noise(size, static_cast<unsigned>(size));
    files["data/Núñez.jpg"] = "composed";
    files
        ["data/Nu\xCC\x81n\xCC\x83"
         "ez.raw"] = "decomposed";
    files["data/" + std::string(120, 'l') + "/" + std::string(150, 'n')] = "long";
    files["data/100% \"quoted\" \\ name"] = "awkward";
    return files;
}

std::vector<std::byte> bytes_of(const std::string& text) {
    const auto bytes = std::as_bytes(std::span(text.data(), text.size()));
    return {bytes.begin(), bytes.end()};
}

/// Hands one file to a sink, as the river does.
void stream(flow::Sink& sink, const std::string& name, const std::string& content,
            bool size_known = true) {
    flow::Item item;
    item.name = name;
    item.size = size_known ? content.size() : 0;
    item.modified = when;
    const auto stream = sink.open(item);
    const auto bytes = bytes_of(content);
    if (!bytes.empty()) stream->block(0, bytes);
    flow::Outcome outcome;
    outcome.bytes = content.size();
    stream->finish(outcome);
}

void write_all(flow::Destination& destination, const std::map<std::string, std::string>& files) {
    destination.check({10'000'000, 20, 1'000'000});
    destination.prepare();
    for (const auto& [name, content] : files)
        stream(destination.sink(), name, content);
    destination.put("bagit.txt", "tag", when);
    destination.sync();
}

std::map<std::string, digest::Value> read_back(flow::Destination& destination) {
    std::map<std::string, digest::Value> out;
    flow::DigestSink digests({digest::Algorithm::sha512},
                             [&](const flow::Item& item, const std::vector<digest::Value>& values) {
                                 out[item.name] = values[0];
                             });
    flow::Sink* sinks[] = {&digests};
    const flow::Result result = destination.read_back(sinks, {});
    CHECK(result.sink_failures.empty());
    return out;
}

std::map<std::string, digest::Value> digests_of(const std::map<std::string, std::string>& files) {
    std::map<std::string, digest::Value> out;
    for (const auto& [name, content] : files)
        out[name] = digest::digest_of(digest::Algorithm::sha512, content);
    return out;
}

std::unique_ptr<flow::Destination> destination_in(const TempFolder& folder, ArchiveForm form,
                                                  io::FileSystem& files = io::posix_file_system()) {
    return bagit::archive_destination(files, folder.path(), bag, form);
}

void shell(const TempFolder& folder, const std::string& command) {
    INFO(command);
    REQUIRE(std::system(("cd '" + folder.path().string() + "' && " + command).c_str()) == 0);
}

}  // namespace

// Outside witnesses: GNU tar and Info-ZIP's unzip unpack what was written, byte for byte.
TEST_CASE("tar and unzip unpack what a serialised destination holds") {
    for (const ArchiveForm form : {ArchiveForm::tar, ArchiveForm::zip}) {
        const bool tar = form == ArchiveForm::tar;
        if (!tar && std::system("command -v unzip > /dev/null") != 0) {
            WARN("SKIPPED: there is no unzip here");
            continue;
        }
        const TempFolder folder;
        auto files = contents();
        const auto destination = destination_in(folder, form);
        write_all(*destination, files);
        files["bagit.txt"] = "tag";
        CHECK(destination->written().size() == files.size());
        CHECK(read_back(*destination) == digests_of(files));
        CHECK_FALSE(fs::exists(destination->published_path()));
        destination->publish();
        const std::string name = bag + std::string(bagit::archive_ending(form));
        CHECK(destination->published_path() == (folder / name).string());
        CHECK(std::distance(fs::directory_iterator(folder.path()), {}) == 1);
        shell(folder, "mkdir out && cd out && " +
                          (tar ? "tar -xf ../" + name
                               : "unzip -tqq ../" + name + " && unzip -qq ../" + name));
        CHECK(std::distance(fs::directory_iterator(folder / "out"), {}) == 1);
        for (const auto& [path, content] : files) {
            INFO(path);
            const fs::path unpacked = folder / ("out/" + bag + "/" + path);
            CHECK(content_of(unpacked) == content);
            const Timestamp kept = io::posix_file_system().info(unpacked).modified;
            const std::int64_t unit = tar ? 1 : 1'000'000'000;
            CHECK(kept.nanoseconds / unit == when.nanoseconds / unit);
        }
    }
}

// Outside witness: Python's zipfile.
TEST_CASE("more members than a ZIP file without ZIP64 can list") {
    struct Memory : io::OutputFile {
        void append(std::span<const std::byte> bytes) override {
            content.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
        }
        void set_modified(Timestamp) override {}
        void sync() override {}
        void close() override {}
        std::string content;
    };
    Memory memory;
    const std::size_t count = 66'000;
    bagit::ArchiveWriter writer(memory, ArchiveForm::zip);
    for (std::size_t i = 0; i < count; ++i) {
        writer.begin("bag/data/" + std::to_string(i), 1, when);
        writer.bytes(bytes_of("x"));
        writer.end();
    }
    writer.finish();
    const TempFolder folder;
    const auto path = folder.write("bag.zip", memory.content);
    const auto plain = bagit::PlainArchive::open(io::posix_file_system(), path, {});
    REQUIRE(plain);
    CHECK(plain->contents().listing.size() == count);
    shell(folder,
          "python3 -c \"import zipfile; z = zipfile.ZipFile('bag.zip'); "
          "assert len(z.infolist()) == 66000\"");
}

TEST_CASE("files that come while another is written are added whole") {
    for (const ArchiveForm form : {ArchiveForm::tar, ArchiveForm::zip}) {
        const TempFolder folder;
        const auto destination = destination_in(folder, form);
        destination->prepare();
        std::map<std::string, std::string> files{{"data/first", noise(100'000, 1)},
                                                 {"data/beside", noise(50'000, 2)},
                                                 {"recovery/large", noise(9'000'000, 3)},
                                                 {"data/empty", ""},
                                                 {"data/put", "put"}};
        flow::Item item;
        item.name = "data/first";
        item.size = files["data/first"].size();
        item.modified = when;
        const auto first = destination->sink().open(item);
        const auto bytes = bytes_of(files["data/first"]);
        first->block(0, std::span(bytes).first(40'000));
        stream(destination->sink(), "data/beside", files["data/beside"]);
        stream(destination->sink(), "recovery/large", files["recovery/large"], false);
        stream(destination->sink(), "data/empty", "");
        destination->put("data/put", "put", when);
        CHECK(destination->give_back("data/put") == "put");
        first->block(40'000, std::span(bytes).subspan(40'000));
        first->finish({});
        CHECK(destination->give_back("data/put") == "put");
        CHECK(destination->give_back("data/beside") == files["data/beside"]);
        CHECK_THROWS_AS(destination->give_back("data/none"), Error);
        destination->sync();
        CHECK(read_back(*destination) == digests_of(files));
        destination->publish();
        CHECK(std::distance(fs::directory_iterator(folder.path()), {}) == 1);
    }
}

TEST_CASE("a name that is no UTF-8 goes into tar and is refused by ZIP") {
    const std::string name =
        "data/N\xFA\xF1"
        "ez.jpg";
    const TempFolder folder;
    const auto tar = destination_in(folder, ArchiveForm::tar);
    write_all(*tar, {{name, "x"}});
    CHECK(read_back(*tar).contains(name));
    tar->publish();
    shell(folder, "tar -tf " + bag + ".tar > list 2> /dev/null && test $(wc -l < list) = 2");
    const auto zip = destination_in(folder, ArchiveForm::zip);
    zip->prepare();
    CHECK_THROWS_AS(stream(zip->sink(), name, "x"), Error);
    zip->abandon();
}

TEST_CASE("nothing is replaced, and leftovers of an interrupted run are cleared") {
    const TempFolder folder;
    {
        const auto destination = destination_in(folder, ArchiveForm::tar);
        write_all(*destination, contents());
        // Interrupted here: the process is gone, and so is its lock.
    }
    CHECK(fs::exists(folder / ("." + bag + ".tar.glassine-staging")));
    const auto again = destination_in(folder, ArchiveForm::tar);
    write_all(*again, contents());
    again->publish();
    CHECK(std::distance(fs::directory_iterator(folder.path()), {}) == 1);
    const std::string before = tree_fingerprint(folder.path());
    CHECK_THROWS_AS(destination_in(folder, ArchiveForm::tar)->check({}), Error);
    // Somebody else's file under the name, that came between check and publish.
    const TempFolder other;
    const auto late = destination_in(other, ArchiveForm::tar);
    write_all(*late, contents());
    other.write(bag + ".tar", "not ours");
    CHECK_THROWS_AS(late->publish(), Error);
    late->abandon();
    CHECK(content_of(other / (bag + ".tar")) == "not ours");
    CHECK(tree_fingerprint(folder.path()) == before);
}

TEST_CASE("a destination is refused before the first byte when it cannot take the archive") {
    const TempFolder folder;
    FaultFileSystem files(io::posix_file_system());
    files.set_free_space(1000);
    CHECK_THROWS_AS(destination_in(folder, ArchiveForm::tar, files)->check({10'000, 2, 9'000}),
                    Error);
    CHECK_THROWS_AS(
        bagit::archive_destination(io::posix_file_system(), folder / "none", bag, ArchiveForm::zip)
            ->check({}),
        Error);
    CHECK(fs::is_empty(folder.path()));
}

TEST_CASE("what does not read back as it was written is noticed") {
    for (const std::size_t place : {5u, 3000u}) {  // a header, a file's content
        const TempFolder folder;
        const auto destination = destination_in(folder, ArchiveForm::tar);
        std::map<std::string, std::string> files{{"data/a", noise(10'000, 1)}};
        write_all(*destination, files);
        files["bagit.txt"] = "tag";
        const fs::path staged = folder / ("." + bag + ".tar.glassine-staging") / (bag + ".tar");
        std::string content = content_of(staged);
        content[place] = static_cast<char>(content[place] ^ 1);
        write_file(staged, content);
        bool noticed = false;
        try {
            noticed = read_back(*destination) != digests_of(files);
        } catch (const Error&) {
            noticed = true;
        }
        CHECK(noticed);
        destination->abandon();
        CHECK(fs::is_empty(folder.path()));
    }
}

TEST_CASE("whichever operation fails, no half archive stands under the bag's name") {
    const std::map<std::string, std::string> files_in{
        {"data/a", noise(700, 1)}, {"data/b", noise(70'000, 2)}, {"data/c", ""}};
    for (const ArchiveForm form : {ArchiveForm::tar, ArchiveForm::zip}) {
        for (std::uint64_t n = 1;; ++n) {
            const TempFolder folder;
            FaultFileSystem files(io::posix_file_system());
            const auto destination = destination_in(folder, form, files);
            files.fail_at(n);
            bool failed = false;
            try {
                write_all(*destination, files_in);
                read_back(*destination);
                destination->publish();
            } catch (const Error&) {
                failed = true;
                destination->abandon();
            }
            const fs::path published = destination->published_path();
            if (fs::exists(published)) {
                bagit::ArchivedBag whole(io::posix_file_system(), published, {}, {});
                CHECK(whole.contents().listing.size() == files_in.size() + 1);
                CHECK_FALSE(whole.contents().torn);
            }
            if (!files.failed()) break;
            CHECK((failed || fs::exists(published)));
        }
    }
}
