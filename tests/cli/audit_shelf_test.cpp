#include "cli/glassine.h"

#include <algorithm>
#include <csignal>
#include <fstream>
#include <utility>

using namespace glassine::test;
namespace fs = std::filesystem;

namespace {

Json audit(const Home& home, Arguments more, int code) {
    more.insert(more.begin(), "audit");
    return home.ask(std::move(more), code);
}

void add_volume(const Home& home, const fs::path& root, const std::string& label) {
    const auto ended = home.glassine(
        {"shelf", "add", root.string(), "--label", label, "--place", "shelf", "--kind", "drive"});
    INFO(ended.err);
    REQUIRE(ended.code == 0);
}

/// Closes the job out under a description of its own.
fs::path seal(const Home& home, const fs::path& drive, const std::string& about) {
    const auto ended =
        home.glassine({"closeout", home.job().string(), "--to", drive.string(), "--client", "Holt",
                       "--date", small_job_date, "--about", about, "--recovery", "none"});
    INFO(ended.out << ended.err);
    REQUIRE(ended.code == 0);
    return drive / ("2025-06-14_holt_" + about);
}

std::vector<std::string> names(const Json& audit) {
    std::vector<std::string> out;
    for (const Json& bag : audit.at("bags"))
        out.push_back(bag.at("name").get<std::string>().substr(16));
    return out;
}

}  // namespace

TEST_CASE("an audit of a volume takes the bags longest unproven first, and those at risk before") {
    const Home home;
    const fs::path drive = home.drive("drive");
    add_volume(home, drive, "SHELF-01");
    for (const char* about : {"one", "two", "three"})
        seal(home, drive, about);
    CHECK(names(audit(home, {drive.string()}, 0)) ==
          std::vector<std::string>{"one", "two", "three"});
    audit(home, {(drive / "2025-06-14_holt_one").string()}, 0);
    CHECK(names(audit(home, {drive.string()}, 0)) ==
          std::vector<std::string>{"two", "three", "one"});
    // A bag that nobody knows was never proven at all.
    fs::copy(drive / "2025-06-14_holt_one", drive / "2025-06-14_holt_new",
             fs::copy_options::recursive);
    CHECK(names(audit(home, {drive.string()}, 0)).front() == "new");
}

TEST_CASE("a budget is a length of time or a number of bytes") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    for (const char* wrong : {"90", "m", "0m", "1m1h", "-5m", "1.5h", "soon"}) {
        INFO(wrong);
        CHECK(home.glassine({"audit", bag.string(), "--budget=" + std::string(wrong)}).code == 2);
    }
    for (const char* right : {"90m", "2h", "1h30m", "45s"}) {
        INFO(right);
        const Json json = audit(home, {bag.string(), "--budget", right}, 0);
        CHECK(json.at("left").empty());
        CHECK(json.at("budget").get<double>() >= 45);
    }
    for (const char* wrong : {"0GB", "-1GB", "b", "50GBs", "50 pounds"}) {
        INFO(wrong);
        CHECK(home.glassine({"audit", bag.string(), "--budget=" + std::string(wrong)}).code == 2);
    }
    const Json json = audit(home, {bag.string(), "--budget", "50GB"}, 0);
    CHECK(json.at("left").empty());
    CHECK(json.at("byte_budget") == 50'000'000'000);
}

TEST_CASE("a budget of bytes proves every bag in its turn, and looks at all of them") {
    const Home home;
    const fs::path drive = home.drive("drive");
    add_volume(home, drive, "SHELF-01");
    for (const char* about : {"one", "two", "three"})
        seal(home, drive, about);
    const Json whole = audit(home, {drive.string()}, 0);
    const auto bytes = whole.at("bags")[0].at("bytes").get<std::uint64_t>();
    const std::string budget = std::to_string(bytes * 7 / 10) + "B";
    std::vector<std::string> proven;
    for (int audits = 0; proven.size() < 3 && audits < 20; ++audits) {
        const Json json = audit(home, {drive.string(), "--budget", budget}, 0);
        for (const Json& bag : json["bags"])
            if (bag.at("valid") == true)
                proven.push_back(bag.at("name").get<std::string>().substr(16));
    }
    CHECK(proven == std::vector<std::string>{"one", "two", "three"});
    // What is missing beyond the budget is told all the same; that bag is not the first in turn.
    fs::remove(drive / "2025-06-14_holt_three/data/web/GLS_0001.jpg");
    const Json missing = audit(home, {drive.string(), "--budget", "1B"}, 1);
    const Json& three = missing.at("bags").back();
    CHECK(three.at("valid").is_null());
    CHECK(paths_of(three.at("findings"), "payload-missing") ==
          std::vector<std::string>{"data/web/GLS_0001.jpg"});
    CHECK(missing.at("left").size() == 3);
    const auto ended = home.glassine({"audit", drive.string(), "--budget", "1B"});
    CHECK(contains(ended.err, "in 3 bags"));
}

TEST_CASE("one error on a drive brings the rest of it to the top of what is due") {
    const Home home;
    const fs::path drive = home.drive("drive");
    add_volume(home, drive, "SHELF-01");
    const fs::path one = seal(home, drive, "one");
    seal(home, drive, "two");
    write_file(one / "data/web/GLS_0001.jpg", "rotten");
    audit(home, {one.string()}, 1);
    const Json due = json_of(home.glassine({"shelf", "due", "--json"}));
    CHECK(due.at("due")[0].at("kind") == "no-whole-copy");
    CHECK(contains(due["due"][0].at("to_type"), "glassine mend"));
}

namespace {

/// Makes all that a volume's log tells ten days older.
void age_log(const fs::path& volume) {
    const auto ended =
        run({"sh", "-c",
             "sed -i -E 's/\"time\": ?\"[0-9]{4}-[0-9]{2}-[0-9]{2}T/\"time\":\"'$(date -u "
             "-d '10 days ago' +%F)'T/' glassine-events.jsonl"},
            volume);
    INFO(ended.err);
    REQUIRE(ended.code == 0);
}

/// A register that knows what the drives tell, and nothing else.
void rebuild(const Home& home, const Arguments& drives) {
    fs::remove_all(home / "home/glassine");
    Arguments scan{"shelf", "scan"};
    scan.insert(scan.end(), drives.begin(), drives.end());
    home.ask(scan);
}

}  // namespace

TEST_CASE("one error raises its job's other copies and the rest of the medium") {
    const Home home;
    const fs::path a = home.volume("a");
    const fs::path b = home.volume("b");
    for (const char* about : {"one", "two"})
        REQUIRE(home.glassine({"closeout", home.job().string(), "--to", a.string(), "--to",
                               b.string(), "--client", "Holt", "--date", small_job_date, "--about",
                               about, "--recovery", "none"})
                    .code == 0);
    // A proof of the same day would count as made with the error in view.
    age_log(a);
    age_log(b);
    rebuild(home, {a.string(), b.string()});
    write_file(a / "2025-06-14_holt_one/data/web/GLS_0001.jpg", "rotten");
    audit(home, {(a / "2025-06-14_holt_one").string()}, 1);

    const Json due = home.ask({"shelf", "due"}, 1).at("due");
    REQUIRE(due.size() == 5);
    CHECK(due[0].at("kind") == "damaged-copy");
    CHECK(contains(due[0].at("to_type"), "glassine mend"));
    std::vector<std::string> at_risk;
    for (const std::size_t i : {1, 2}) {
        CHECK(due[i].at("kind") == "audit-at-risk");
        at_risk.push_back(due[i].at("label").get<std::string>() + " " + due[i].at("bags").dump());
    }
    std::ranges::sort(at_risk);
    CHECK(at_risk == std::vector<std::string>{"SHELF-a [\"2025-06-14_holt_two\"]",
                                              "SHELF-b [\"2025-06-14_holt_one\"]"});
    CHECK(due[3].at("kind") == "too-few-copies");
    // An audit takes the copy at risk first, though the other is as long unproven.
    CHECK(names(audit(home, {b.string()}, 0)).front() == "one");
    const Json later = home.ask({"shelf", "due"}, 1);
    for (const Json& item : later.at("due"))
        CHECK_FALSE((item.at("kind") == "audit-at-risk" && item.at("label") == "SHELF-b"));
}

TEST_CASE("a drive's rate is compared with its own earlier audits") {
    const Home home;
    const fs::path drive = home.volume("a");
    home.job({.film_bytes = 66'000'000});
    seal(home, drive, "film");
    CHECK(audit(home, {drive.string()}, 0).at("rates").empty());
    // The log's last line tells how fast that was; nothing but the drive is asked for it.
    const auto was_read_in = [&](const std::string& seconds) {
        REQUIRE(
            run({"sed", "-i", "-E", "s/\"seconds\": ?\"[0-9.]+\"/\"seconds\":\"" + seconds + "\"/",
                 "glassine-events.jsonl"},
                drive)
                .code == 0);
        rebuild(home, {drive.string()});
        return audit(home, {drive.string()}, 0);
    };
    const Json slower = was_read_in("0.001");
    REQUIRE(slower.at("rates").size() == 1);
    CHECK(slower["rates"][0].at("label") == "SHELF-a");
    CHECK(slower["rates"][0].at("usual_bytes_per_second").get<double>() > 6e10);
    CHECK(paths_of(slower.at("findings"), "slow-read") == std::vector<std::string>{"SHELF-a"});
    const Json faster = was_read_in("5000");
    CHECK(faster.at("rates").size() == 1);
    CHECK(paths_of(faster.at("findings"), "slow-read").empty());
}

TEST_CASE("an audit that was killed goes on with the bag that it had not come to") {
    const Home home;
    const fs::path drive = home.volume("a");
    home.job({.film_bytes = 60'000'000});
    for (const char* about : {"one", "two"})
        seal(home, drive, about);
    const std::string log = (drive / "glassine-events.jsonl").string();
    const auto lines = [&] { return std::ranges::count(content_of(log), '\n'); };
    const auto before = lines();
    RunningProgram program(home.start({"audit", drive.string(), "--json"}));
    REQUIRE(program.wait_for_error_text("(2 of 2)"));
    program.send(SIGKILL);
    program.wait();
    const auto next = names(audit(home, {drive.string()}, 0));
    // Where the machine was too quick, the second was read to its end as well.
    if (lines() - before == 3)
        CHECK(next == std::vector<std::string>{"two", "one"});
    else
        CHECK(lines() - before == 4);
}

TEST_CASE("mend finds other copies through the register") {
    const Home home;
    const fs::path a = home.drive("a");
    const fs::path b = home.drive("b");
    add_volume(home, a, "SHELF-01");
    add_volume(home, b, "SHELF-02");
    const fs::path bag = seal(home, a, "one");
    // The second close-out completes the job on the other drive.
    const auto second = home.glassine({"closeout", home.job().string(), "--to", a.string(), "--to",
                                       b.string(), "--client", "Holt", "--date", small_job_date,
                                       "--about", "one", "--recovery", "none"});
    REQUIRE(second.code == 0);
    const std::string whole = content_of(bag / "data/web/GLS_0001.jpg");
    write_file(bag / "data/web/GLS_0001.jpg", "rotten");
    audit(home, {a.string()}, 1);

    // The other drive stands elsewhere now: it is recognised.
    fs::rename(b, home / "moved");
    const auto mended = home.glassine({"mend", bag.string(), "--json"});
    CHECK(mended.code == 0);
    CHECK(json_of(mended).at("healed") == Json{"data/web/GLS_0001.jpg"});
    CHECK(content_of(bag / "data/web/GLS_0001.jpg") == whole);
    const Json list = json_of(home.glassine({"shelf", "list", "--json"}));
    for (const Json& copy : list["bags"][0].at("copies"))
        CHECK(copy.at("state") == "whole");
    CHECK(contains(content_of(a / "glassine-events.jsonl"), "\"recovery\""));

    // Out of reach, it is named.
    write_file(bag / "data/web/GLS_0001.jpg", "rotten");
    fs::rename(home / "moved", home.folder().path().parent_path() /
                                   (home.folder().path().filename().string() + "-away"));
    const auto helpless = home.glassine({"mend", bag.string()});
    fs::remove_all(home.folder().path().string() + "-away");
    CHECK(helpless.code == 1);
    CHECK(contains(helpless.out, "SHELF-02 (shelf)"));
}

namespace {

/// A btrfs image on a loop device, for as long as the scope lasts: its checksums make changed bytes
/// of the image unreadable sectors.
class BtrfsImage {
  public:
    explicit BtrfsImage(const fs::path& place) : image_(place / "image"), at_(place / "mounted") {
        fs::create_directories(at_);
        std::ofstream(image_).close();
        fs::resize_file(image_, 120'000'000);
        made_ = run({"mkfs.btrfs", "-q", image_.string()}).code == 0 && mount();
    }
    ~BtrfsImage() { unmount(); }
    BtrfsImage(const BtrfsImage&) = delete;
    BtrfsImage& operator=(const BtrfsImage&) = delete;

    bool made() const { return made_; }
    const fs::path& at() const { return at_; }
    /// Changes a byte of the image where `content` stands. The image is not mounted meanwhile.
    bool spoil(const std::string& content, std::size_t at) {
        unmount();
        std::string all = content_of(image_);
        const std::size_t place = all.find(content);
        if (place == std::string::npos) return false;
        all[place + at] = static_cast<char>(all[place + at] ^ 1);
        write_file(image_, all);
        return mount();
    }

  private:
    bool mount() {
        mounted_ = run({"mount", "-o", "loop", image_.string(), at_.string()}).code == 0;
        return mounted_;
    }
    void unmount() {
        if (mounted_) run({"umount", at_.string()});
        mounted_ = false;
    }

    fs::path image_;
    fs::path at_;
    bool mounted_ = false;
    bool made_ = false;
};

}  // namespace

TEST_CASE("real unreadable sectors: everything around them is read, and the audit goes on") {
    const Home home;
    BtrfsImage drive(home.folder().path());
    if (!drive.made())
        CANNOT_TEST_HERE("mounting a btrfs image takes root, a loop device and btrfs-progs");
    add_volume(home, drive.at(), "SHELF-01");
    const fs::path bag = drive.at() / "2025-06-14_holt_large";
    const std::string film = noise(3'000'000, 17);
    fs::create_directories(bag / "data");
    write_file(bag / "data/film.bin", film);
    write_file(bag / "data/still.bin", noise(200'000, 18));
    REQUIRE(
        run({"sh", "-c",
             "printf 'BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n' > bagit.txt && "
             "sha512sum data/* > manifest-sha512.txt && sha512sum bagit.txt manifest-sha512.txt "
             "> tagmanifest-sha512.txt"},
            bag)
            .code == 0);
    const fs::path other = seal(home, drive.at(), "other");
    audit(home, {drive.at().string()}, 0);
    // Two sectors of 4096 bytes, far apart.
    REQUIRE(drive.spoil(film.substr(1'000'000 / 4096 * 4096, 4096), 1000));
    REQUIRE(drive.spoil(film.substr(2'500'000 / 4096 * 4096, 4096), 7));

    const Json json = audit(home, {drive.at().string()}, 1);
    REQUIRE(json.at("bags").size() == 2);
    for (const Json& found : json["bags"]) {
        if (found.at("name") != "2025-06-14_holt_large") {
            CHECK(found.at("valid") == true);
            continue;
        }
        CHECK(found.at("valid") == false);
        std::vector<std::pair<std::uint64_t, std::uint64_t>> ranges;
        for (const Json& f : found.at("findings"))
            if (f.at("kind") == "unreadable" && f.contains("offset")) {
                CHECK(f.at("path") == "data/film.bin");
                ranges.emplace_back(f.at("offset"), f.at("length"));
            }
        std::ranges::sort(ranges);
        CHECK(ranges == std::vector<std::pair<std::uint64_t, std::uint64_t>>{
                            {1'000'000 / 4096 * 4096, 4096}, {2'500'000 / 4096 * 4096, 4096}});
    }
    // The other bag on the medium is to be read again before its time.
    const Json due = json_of(home.glassine({"shelf", "due", "--json"}));
    CHECK(due.at("due")[0].at("kind") == "no-whole-copy");
}
