#include "glassine/flow/handout.h"

#include "flow/zip_writer.h"
#include "support/program.h"
#include "support/temp_folder.h"

#include <algorithm>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

flow::Item item(const std::string& name, std::uint64_t size = 0,
                Timestamp modified = *parse_rfc3339("2014-06-21T15:04:06Z")) {
    flow::Item out;
    out.name = name;
    out.size = size;
    out.modified = modified;
    return out;
}

void give(flow::Handout& target, const std::string& name, const std::string& content,
          bool keep = true) {
    const auto file = target.create(item(name, content.size()));
    file->append(std::as_bytes(std::span(content)));
    if (keep) file->keep();
}

/// What Python's zipfile (zipfile module, Python standard library) says of a ZIP file: for each
/// entry its name, size, method, flags, and whether its content has the right CRC.
std::string as_python_sees(const fs::path& zip) {
    const std::string script =
        "import zipfile,sys\n"
        "z=zipfile.ZipFile(sys.argv[1])\n"
        "assert z.testzip() is None\n"
        "for i in z.infolist():\n"
        "  print(i.filename.encode().hex() if not i.filename.isascii() else i.filename,"
        "i.file_size,i.compress_type,i.flag_bits,*i.date_time)\n";
    const auto ended =
        run({"python3", "-c", script, zip.string()}, {}, {{"TZ", "UTC"}, {"LC_ALL", "C.UTF-8"}});
    INFO(ended.err);
    REQUIRE(ended.code == 0);
    return ended.out;
}

std::vector<std::string> names_in(const fs::path& folder) {
    std::vector<std::string> names;
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        names.push_back(fs::relative(entry.path(), folder).string());
    std::ranges::sort(names);
    return names;
}

}  // namespace

TEST_CASE("a folder gets what was kept, with its time, and nothing else") {
    const TempFolder temp;
    const auto target = flow::folder_handout(io::posix_file_system(), temp / "out");
    target->check({1000, 3});
    target->prepare();
    give(*target, "print/a.jpg", "whole");
    give(*target, "print/b.jpg", "damaged", false);
    give(*target, "print/b.jpg", "put right");
    give(*target, "web/c.jpg", "damaged", false);
    CHECK_FALSE(fs::exists(temp / "out/print"));
    const auto published = target->publish();
    CHECK(published.taken.empty());
    CHECK(names_in(temp / "out") ==
          std::vector<std::string>{"print", "print/a.jpg", "print/b.jpg"});
    CHECK(content_of(temp / "out/print/b.jpg") == "put right");
    CHECK(io::posix_file_system().info(temp / "out/print/a.jpg").modified ==
          *parse_rfc3339("2014-06-21T15:04:06Z"));
}

TEST_CASE("a file that stands in a folder already is never replaced") {
    const TempFolder temp;
    temp.write("out/web/a.jpg", "mine");
    const auto target = flow::folder_handout(io::posix_file_system(), temp / "out");
    CHECK(target->standing("web/a.jpg") == temp / "out/web/a.jpg");
    CHECK(target->standing("web/b.jpg").empty());
    target->prepare();
    give(*target, "web/a.jpg", "yours");
    give(*target, "web/b.jpg", "new");
    const auto published = target->publish();
    CHECK(published.taken == std::vector<std::string>{"web/a.jpg"});
    CHECK(content_of(temp / "out/web/a.jpg") == "mine");
    CHECK(content_of(temp / "out/web/b.jpg") == "new");
}

TEST_CASE("what is given up leaves nothing, not even a new folder") {
    const TempFolder temp;
    for (const char* name : {"out", "out.zip"}) {
        const fs::path path = temp / name;
        const auto target = path.extension() == ".zip"
                                ? flow::zip_handout(io::posix_file_system(), path)
                                : flow::folder_handout(io::posix_file_system(), path);
        target->prepare();
        give(*target, "a.jpg", "whole");
        target->abandon();
        CHECK(names_in(temp.path()).empty());
    }
}

TEST_CASE("Python and unzip open a ZIP file, whatever the names in it") {
    const TempFolder temp;
    ::setenv("TZ", "UTC", 1);
    ::tzset();
    const auto target = flow::zip_handout(io::posix_file_system(), temp / "out.zip");
    target->check({1000, 3});
    target->prepare();
    give(*target, "web/b.jpg", "second");
    give(*target, "print/Jørgen & Åse.jpg", noise(3'000'000, 1));
    give(*target, "print/broken.jpg", "not this", false);
    give(*target, "empty.txt", "");
    CHECK_FALSE(fs::exists(temp / "out.zip"));
    CHECK(target->publish().paths == std::vector<std::string>{(temp / "out.zip").string()});
    // Stored (0), no data descriptors (bit 3), the UTF-8 bit (0x800) where it is needed.
    const std::string seen = as_python_sees(temp / "out.zip");
    CHECK(seen.starts_with("empty.txt 0 0 0 2014 6 21 15 4 6\n"));
    CHECK(seen.find(" 3000000 0 2048 2014 6 21 15 4 6\n") != std::string::npos);
    CHECK(seen.ends_with("web/b.jpg 6 0 0 2014 6 21 15 4 6\n"));
    // Info-ZIP's own test of an archive.
    const auto tested = run({"unzip", "-t", (temp / "out.zip").string()});
    INFO(tested.out << tested.err);
    CHECK(tested.code == 0);
    const auto unpacked =
        run({"unzip", "-q", (temp / "out.zip").string(), "-d", (temp / "un").string()}, {},
            {{"LC_ALL", "C.UTF-8"}});
    CHECK(unpacked.code == 0);
    CHECK(content_of(temp / "un/print/Jørgen & Åse.jpg") == noise(3'000'000, 1));
    CHECK(io::posix_file_system().info(temp / "un/web/b.jpg").modified ==
          *parse_rfc3339("2014-06-21T15:04:06Z"));
}

TEST_CASE("ZIP files end at the size asked for, and each opens by itself") {
    const TempFolder temp;
    const auto target = flow::zip_handout(io::posix_file_system(), temp / "out.zip", 25'000);
    target->prepare();
    for (int i = 0; i < 7; ++i)
        give(*target, "web/" + std::to_string(i) + ".jpg", noise(10'000, static_cast<unsigned>(i)));
    give(*target, "web/large.jpg", noise(60'000, 9));
    const auto published = target->publish();
    REQUIRE(published.paths.size() == 5);
    CHECK(published.paths.front() == (temp / "out-1.zip").string());
    CHECK_FALSE(fs::exists(temp / "out.zip"));
    std::size_t files = 0;
    for (const std::string& path : published.paths) {
        const std::string seen = as_python_sees(path);
        files += static_cast<std::size_t>(std::ranges::count(seen, '\n'));
        if (seen.find("large") == std::string::npos) CHECK(fs::file_size(path) <= 25'000);
    }
    CHECK(files == 8);
}

TEST_CASE("a ZIP file that is there already is refused before anything is written") {
    const TempFolder temp;
    for (const char* name : {"out.zip", "out-1.zip"}) {
        temp.write(name, "mine");
        const auto target = flow::zip_handout(io::posix_file_system(), temp / "out.zip");
        CHECK_THROWS_AS(target->check({}), Error);
        CHECK(content_of(temp / name) == "mine");
        fs::remove(temp / name);
    }
}

TEST_CASE("a file that has no room in memory while it waits comes through all the same") {
    const TempFolder temp;
    const auto target = flow::zip_handout(io::posix_file_system(), temp / "out.zip");
    target->prepare();
    const std::string piece = noise(1u << 20, 3);
    const auto file = target->create(item("film.mov"));
    const auto other = target->create(item("dropped.mov"));
    for (int i = 0; i < 110; ++i)
        file->append(std::as_bytes(std::span(piece)));
    other->append(std::as_bytes(std::span(piece)));
    file->keep();
    target->publish();
    CHECK(as_python_sees(temp / "out.zip").starts_with("film.mov 115343360 0 0 "));
}

namespace {

/// Writes a file with holes where zeros come in large pieces.
class Sparse : public io::OutputFile {
  public:
    explicit Sparse(const fs::path& path) : out_(path, std::ios::binary) {}
    using io::OutputFile::append;
    void append(std::span<const std::byte> bytes) override {
        if (bytes.size() == hole)
            out_.seekp(static_cast<std::streamoff>(bytes.size()), std::ios::cur);
        else
            out_.write(reinterpret_cast<const char*>(bytes.data()),
                       static_cast<std::streamsize>(bytes.size()));
    }
    void set_modified(Timestamp) override {}
    void sync() override {}
    void close() override { out_.close(); }

    static constexpr std::size_t hole = 1u << 20;

  private:
    std::ofstream out_;
};

}  // namespace

TEST_CASE("entries and archives past 4 GiB are written as ZIP64") {
    const TempFolder temp;
    Sparse out(temp / "large.zip");
    flow::ZipWriter zip(out);
    constexpr std::uint64_t size = (std::uint64_t{4097} << 20);
    zip.begin({"film.mov", size, 0, {}});
    const std::vector<std::byte> zeros(Sparse::hole);
    for (std::uint64_t at = 0; at < size; at += zeros.size())
        zip.bytes(zeros);
    const std::string text = "behind it";
    zip.begin({"small.txt", text.size(), flow::zip_crc(0, std::as_bytes(std::span(text))), {}});
    zip.bytes(std::as_bytes(std::span(text)));
    const std::uint64_t foretold = zip.size();
    zip.finish();
    out.close();
    CHECK(fs::file_size(temp / "large.zip") <= foretold);
    const auto ended = run({"python3", "-c",
                            "import zipfile,sys\n"
                            "z=zipfile.ZipFile(sys.argv[1])\n"
                            "print([(i.filename,i.file_size) for i in z.infolist()],"
                            "z.read('small.txt'))",
                            (temp / "large.zip").string()});
    INFO(ended.err);
    CHECK(ended.out == "[('film.mov', 4296015872), ('small.txt', 9)] b'behind it'\n");
}

TEST_CASE("more than 65,535 entries are written as ZIP64") {
    const TempFolder temp;
    Sparse out(temp / "many.zip");
    flow::ZipWriter zip(out);
    for (int i = 0; i < 66'000; ++i)
        zip.begin({"f" + std::to_string(i), 0, 0, {}});
    zip.finish();
    out.close();
    const auto ended = run(
        {"python3", "-c", "import zipfile,sys\nprint(len(zipfile.ZipFile(sys.argv[1]).namelist()))",
         (temp / "many.zip").string()});
    CHECK(ended.out == "66000\n");
}
