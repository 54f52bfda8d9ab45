#include "bag_builder.h"
#include "glassine/bagit/fetch.h"
#include "glassine/bagit/manifest.h"

#include <cstdlib>

using namespace glassine;
using namespace glassine::test;
using digest::Algorithm;

namespace {

/// A bag written by one of the small scripts beside this file, from the standard's text alone.
std::filesystem::path written_by_script(const TempFolder& folder, const std::string& version) {
    std::string name = version;
    std::ranges::replace(name, '.', '_');
    const std::string bag = (folder / ("bag-" + version)).string();
    const std::string command = std::string("python3 ") + SOURCE_TREE + "/tests/bagit/write_bag_" +
                                name + ".py '" + bag + "'";
    REQUIRE(std::system(command.c_str()) == 0);
    return bag;
}

std::string utf16(std::string_view ascii, bool high_first, bool mark) {
    std::string out;
    if (mark) out = high_first ? "\xFE\xFF" : "\xFF\xFE";
    for (const char c : ascii) {
        if (high_first) out += '\0';
        out += c;
        if (!high_first) out += '\0';
    }
    return out;
}

}  // namespace

// Outside witness: Python's hashlib, and each version's own text.
TEST_CASE("bags written by others from the standard's text are valid") {
    for (const std::string version : {"0.93", "0.94", "0.95", "0.96", "0.97", "1.0"}) {
        const TempFolder folder;
        const auto bag = written_by_script(folder, version);
        const auto report = check(bag);
        INFO(version << ": " << described(report));
        CHECK(report.bagit_version == version);
        CHECK(report.complete);
        CHECK(report.valid == true);
        for (const auto& entry : std::filesystem::recursive_directory_iterator(bag)) {
            if (!entry.is_regular_file() || entry.file_size() == 0) continue;
            if (!entry.path().string().starts_with((bag / "data").string())) continue;
            INFO(entry.path());
            const std::string content = content_of(entry.path());
            std::string altered = content;
            altered[altered.size() / 2] ^= 1;
            write_file(entry.path(), altered);
            CHECK(find(check(bag), FindingKind::payload_altered));
            write_file(entry.path(), content);
        }
    }
}

// RFC 8493 §4.1 and §4.2: the lines as the RFC prints them.
TEST_CASE("the worked examples of RFC 8493 are understood") {
    BagBuilder bag;
    bag.files = {{"bagit.txt", "BagIt-version: 1.0\nTag-File-Character-Encoding: UTF-8\n"},
                 {"manifest-md5.txt",
                  "49afbd86a1ca9f34b677a3f09655eae9 data/27613-h/images/q172.png\n"
                  "408ad21d50cef31da4df6d9ed81b01a7 data/27613-h/images/q172.txt\n"},
                 {"data/27613-h/images/q172.png", "not the picture of the example"},
                 {"data/27613-h/images/q172.txt", "nor its text"}};
    const auto first = check(bag);
    INFO(described(first));
    CHECK(first.complete);
    CHECK(find(first, FindingKind::payload_altered, "data/27613-h/images/q172.png"));
    CHECK(find(first, FindingKind::payload_altered, "data/27613-h/images/q172.txt"));

    bag.files = {{"bagit.txt", "BagIt-version: 1.0\nTag-File-Character-Encoding: UTF-8\n"},
                 {"manifest-md5.txt", "102b0e6effe208ef9b29864946de9e22 data/23364a.tif\n"},
                 {"fetch.txt",
                  "https://cdn.loc.gov/master/pnp/highsm/23300/23364a.tif 216951362 "
                  "data/23364a.tif\n"}};
    const auto second = check(bag);
    INFO(described(second));
    CHECK_FALSE(second.complete);
    CHECK(find(second, FindingKind::fetch_pending, "data/23364a.tif"));
    CHECK_FALSE(find(second, FindingKind::payload_missing));
    CHECK_FALSE(find(second, FindingKind::fetch_malformed));
}

// RFC 8493 §2.1.1-3 and §2.3-6; the encodings are ICU's.
TEST_CASE("tag files in other encodings") {
    for (const bool high_first : {true, false}) {
        BagBuilder bag = BagBuilder::of("1.0");
        bag.encoding = "UTF-16";
        bag.declare();
        for (const char* name : {"bag-info.txt", "manifest-sha512.txt"})
            bag.files[name] = utf16(bag.files[name], high_first, true);
        bag.prove();
        std::string& tags = bag.files["tagmanifest-sha512.txt"];
        tags = utf16(tags, high_first, true);
        const auto report = check(bag);
        INFO(described(report));
        CHECK(report.valid == true);
        CHECK(report.info.at(0).label == "Contact-Name");
        bag.files["data/one.txt"] = "0ne";
        CHECK(find(check(bag), FindingKind::payload_altered, "data/one.txt"));
    }
}

TEST_CASE("a name in the bag's old encoding on the disk is matched") {
    BagBuilder bag;
    bag.version = "0.96";
    bag.encoding = "ISO-8859-1";
    bag.tag_algorithms.clear();
    bag.files = {
        {"data/N\xFA\xF1"
         "ez.jpg",
         "x"}};
    bag.seal();
    const auto report = check(bag);
    INFO(described(report));
    CHECK(report.valid == true);
    CHECK(find(report, FindingKind::name_normalised));
}

// GNU coreutils: `sha512sum -c` takes manifests with two blanks (names with CR, LF or % excepted).
TEST_CASE("manifests that are written satisfy sha512sum") {
    const TempFolder folder;
    std::vector<bagit::ManifestLine> lines;
    for (const std::string name : {"data/b.jpg", "data/Núñez ü.jpg", "data/a b  c", "data/*star",
                                   "data/#hash", "data/back\\slash", "data/ lead"}) {
        folder.write(name, name);
        lines.push_back({name, digest::digest_of(Algorithm::sha512, name)});
    }
    folder.write("manifest-sha512.txt", bagit::manifest_text(lines));
    const std::string command =
        "cd '" + folder.path().string() + "' && sha512sum -c --strict --quiet manifest-sha512.txt";
    CHECK(std::system(command.c_str()) == 0);
}

TEST_CASE("manifests that are written read back the same") {
    std::vector<bagit::ManifestLine> lines;
    for (unsigned i = 0; i < 300; ++i) {
        std::string name = noise(1 + i % 60, i);
        for (char& c : name)
            c = "ab%\n\r /.~*\\"[static_cast<unsigned char>(c) % 11];
        name = "data/x" + bagit::canonical_path(name + "y");
        if (bagit::unsafe_path(name) || !bagit::is_canonical_path(name)) continue;
        lines.push_back({name, digest::digest_of(Algorithm::sha256, name)});
    }
    const std::string text = bagit::manifest_text(lines);
    std::size_t problems = 0;
    bagit::Manifest manifest("manifest-sha256.txt", *bagit::manifest_name("manifest-sha256.txt"));
    bagit::ManifestParser parser(manifest, bagit::encoding_named("UTF-8"), bagit::rules_for("1.0"),
                                 [&](const Finding&) { ++problems; });
    for (std::size_t at = 0; at < text.size(); at += 7)
        parser.feed(
            std::as_bytes(std::span(text).subspan(at, std::min<std::size_t>(7, text.size() - at))));
    parser.finish();
    CHECK(problems == 0);
    std::ranges::sort(lines, {}, &bagit::ManifestLine::path);
    REQUIRE(manifest.size() == lines.size());
    for (std::uint32_t i = 0; i < manifest.size(); ++i) {
        CHECK(manifest[i].path == lines[i].path);
        CHECK(std::ranges::equal(manifest[i].digest, lines[i].digest.bytes()));
    }
}
