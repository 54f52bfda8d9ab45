#include "support/sealing.h"

#include <algorithm>
#include <functional>
#include <random>

using namespace glassine;
using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

/// Files of a bag, relative, sorted.
std::vector<std::string> files_of(const fs::path& bag) {
    std::vector<std::string> out;
    for (const auto& entry : fs::recursive_directory_iterator(bag))
        if (entry.is_regular_file()) out.push_back(fs::relative(entry.path(), bag).string());
    std::ranges::sort(out);
    return out;
}

bool in_payload(const std::string& file) {
    return file.starts_with("data/");
}

/// A sealed bag that a test damages and puts right again.
class SealedBag {
  public:
    SealedBag() {
        REQUIRE(sealing_.closeout().ending == report::Ending::good);
        files_ = files_of(path());
        seal_ = *check().seal;
    }

    fs::path path() const { return sealing_.bag(1); }
    const std::vector<std::string>& files() const { return files_; }
    const std::string& seal() const { return seal_; }
    std::string content(const std::string& file) const { return content_of(path() / file); }
    void write(const std::string& file, const std::string& content) const {
        write_file(path() / file, content);
    }

    bagit::BagReport check() const {
        const auto result = sealing_.audit(path());
        REQUIRE(result.bags.size() == 1);
        return result.bags[0].report;
    }

    /// Puts everything back from the other copy.
    void restore() const {
        fs::remove_all(path());
        fs::copy(sealing_.bag(2), path(), fs::copy_options::recursive);
    }

  private:
    Sealing sealing_{{.kept = 2}};
    std::vector<std::string> files_;
    std::string seal_;
};

/// A place in one of `files`: each byte as likely as every other.
struct Place {
    std::string file;
    std::size_t offset;
};
Place random_place(const SealedBag& bag, const std::vector<std::string>& files,
                   std::mt19937_64& random) {
    std::size_t all = 0;
    for (const std::string& file : files)
        all += bag.content(file).size();
    std::size_t at = random() % all;
    for (const std::string& file : files) {
        const std::size_t size = bag.content(file).size();
        if (at < size) return {file, at};
        at -= size;
    }
    throw std::logic_error("no such place");
}

bool is_hex_letter(char c) {
    return (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F');
}

/// A digit of a checksum whose case changed: RFC 8493 §2.4 takes both cases, so the bag still
/// proves what it holds; nothing proves the tag manifest itself but the seal on record.
bool only_changes_case(const std::string& file, const std::string& content, std::size_t offset,
                       unsigned char bit) {
    const std::size_t line = content.rfind('\n', offset) + 1;
    return file == "tagmanifest-sha512.txt" && bit == 0x20 && offset - line < 128 &&
           is_hex_letter(content[offset]);
}

void check_flip(const SealedBag& bag, const Place& place, unsigned char bit) {
    const std::string good = bag.content(place.file);
    std::string bad = good;
    bad[place.offset] = static_cast<char>(bad[place.offset] ^ bit);
    bag.write(place.file, bad);
    const bagit::BagReport report = bag.check();
    INFO(place.file << " byte " << place.offset << " bit " << int(bit) << "\n"
                    << listed(report.findings));
    if (only_changes_case(place.file, good, place.offset, bit)) {
        CHECK(report.seal != bag.seal());
    } else {
        CHECK(report.valid == false);
        CHECK(any_at_least(report.findings, Severity::damage));
        if (in_payload(place.file))
            CHECK(find(report.findings, FindingKind::payload_altered, place.file) != nullptr);
        else if (place.file != "tagmanifest-sha512.txt")
            CHECK(find(report.findings, FindingKind::tag_altered, place.file) != nullptr);
        else
            CHECK(report.seal != bag.seal());
    }
    bag.write(place.file, good);
}

/// Damages each file in turn and hands the findings to `expect`.
void each_file(const SealedBag& bag, const std::function<void(const fs::path&)>& damage,
               const std::function<void(const std::string&, const bagit::BagReport&)>& expect) {
    for (const std::string& file : bag.files()) {
        damage(bag.path() / file);
        const auto report = bag.check();
        INFO(file << "\n" << listed(report.findings));
        expect(file, report);
        bag.restore();
    }
    CHECK(bag.check().valid == true);
}

void expect_altered(const std::string& file, const bagit::BagReport& report) {
    if (file == "tagmanifest-sha512.txt") {
        // Nothing lists it; what is left of it may still be a tag manifest (RFC 8493 §2.2.1), but
        // not the one that was sealed, and its last line is told to be cut.
        CHECK_FALSE(report.findings.empty());
        return;
    }
    CHECK(report.valid == false);
    CHECK(find(report.findings,
               in_payload(file) ? FindingKind::payload_altered : FindingKind::tag_altered,
               file) != nullptr);
}

}  // namespace

TEST_CASE("every flipped bit in payload and tag files is found") {
    const SealedBag bag;
    std::mt19937_64 random(8493);
    std::vector<std::string> payload;
    std::vector<std::string> tags;
    for (const std::string& file : bag.files())
        (in_payload(file) ? payload : tags).push_back(file);
    for (int i = 0; i < 200; ++i) {
        const Place place = random_place(bag, i % 2 == 0 ? payload : tags, random);
        check_flip(bag, place, static_cast<unsigned char>(1u << (random() % 8)));
    }
    CHECK(bag.check().valid == true);
}

TEST_CASE("every truncated file is found and named") {
    const SealedBag bag;
    each_file(
        bag, [](const fs::path& file) { fs::resize_file(file, fs::file_size(file) - 1); },
        expect_altered);
}

TEST_CASE("every emptied file is found and named") {
    const SealedBag bag;
    each_file(
        bag, [](const fs::path& file) { fs::resize_file(file, 0); }, expect_altered);
}

TEST_CASE("every grown file is found and named") {
    const SealedBag bag;
    each_file(
        bag, [](const fs::path& file) { fs::resize_file(file, fs::file_size(file) + 1); },
        expect_altered);
}

TEST_CASE("every deleted file is found and named") {
    const SealedBag bag;
    each_file(
        bag, [](const fs::path& file) { fs::remove(file); },
        [](const std::string& file, const bagit::BagReport& report) {
            if (file == "tagmanifest-sha512.txt") {
                // Optional (RFC 8493 §2.2.1): without it the bag is valid, but has no seal.
                CHECK_FALSE(report.seal);
                return;
            }
            CHECK_FALSE(report.complete);
            CHECK(report.valid == false);
            if (in_payload(file))
                CHECK(find(report.findings, FindingKind::payload_missing, file) != nullptr);
            else if (file == "bagit.txt")
                CHECK(find(report.findings, FindingKind::declaration_missing) != nullptr);
            else if (file == "manifest-sha512.txt")
                CHECK(find(report.findings, FindingKind::manifest_missing) != nullptr);
            else
                CHECK(find(report.findings, FindingKind::tag_missing, file) != nullptr);
        });
}

TEST_CASE("every renamed payload file is told as moved, with its new name") {
    const SealedBag bag;
    for (const std::string& file : bag.files()) {
        if (!in_payload(file)) continue;
        fs::rename(bag.path() / file, bag.path() / "data/elsewhere.bin");
        const auto report = bag.check();
        INFO(file << "\n" << listed(report.findings));
        const Finding* moved = find(report.findings, FindingKind::payload_moved, file);
        REQUIRE(moved != nullptr);
        CHECK(moved->detail.find("data/elsewhere.bin") != std::string::npos);
        CHECK(find(report.findings, FindingKind::payload_missing) == nullptr);
        CHECK(find(report.findings, FindingKind::payload_unlisted) == nullptr);
        CHECK(report.valid == false);
        bag.restore();
    }
}

TEST_CASE("every pair of swapped neighbours is found, both named") {
    const SealedBag bag;
    const auto& files = bag.files();
    for (std::size_t i = 0; i + 1 < files.size(); ++i) {
        if (!in_payload(files[i]) || !in_payload(files[i + 1])) continue;
        const std::string first = bag.content(files[i]);
        bag.write(files[i], bag.content(files[i + 1]));
        bag.write(files[i + 1], first);
        const auto report = bag.check();
        INFO(files[i] << "\n" << listed(report.findings));
        for (const std::size_t j : {i, i + 1}) {
            const Finding* altered = find(report.findings, FindingKind::payload_altered, files[j]);
            REQUIRE(altered != nullptr);
            CHECK(altered->detail.find(files[i + 1 - (j - i)]) != std::string::npos);
        }
        bag.restore();
    }
}

TEST_CASE("added files are found and named, wherever they stand") {
    const SealedBag bag;
    for (const char* file :
         {"data/new.jpg", "data/print/new.jpg", "data/a/b/c/new", "data/.hidden"}) {
        fs::create_directories((bag.path() / file).parent_path());
        bag.write(file, "new");
        const auto report = bag.check();
        INFO(file << "\n" << listed(report.findings));
        CHECK(find(report.findings, FindingKind::payload_unlisted, file) != nullptr);
        CHECK(report.valid == false);
        bag.restore();
    }
    // RFC 8493 §2.2.1: tag files need not be listed, so one more does not break a bag.
    bag.write("read-me-later.txt", "new");
    const auto report = bag.check();
    CHECK(find(report.findings, FindingKind::tag_unlisted, "read-me-later.txt") != nullptr);
    CHECK(report.valid == true);
}
