#include "cli/glassine.h"
#include "support/effort.h"
#include "support/mending.h"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <functional>
#include <random>
#include <set>
#include <thread>

using namespace glassine::test;
namespace fs = std::filesystem;

/// `glassine mend`, as a person at a command line has it.
namespace {

using Names = std::set<std::string>;

/// A bag, remembered as it was sealed, and further copies of it.
class Bench {
  public:
    explicit Bench(const JobSize& size = {}, const Arguments& more = {}) {
        const fs::path drive = home.drive("drive");
        const auto ended = home.glassine(Home::closeout(home.job(size), {drive}, more));
        INFO(ended.out << ended.err);
        REQUIRE(ended.code == 0);
        sealed = tree_of(drive / bag_name);
    }

    fs::path bag() const { return home / "shelf/bag"; }
    fs::path copy(const std::string& name) const { return home / ("shelf/" + name); }
    void put(const Tree& tree) const {
        fs::remove_all(home / "shelf");
        write_tree(bag(), tree);
    }

    RunningProgram::Ended mend(const Arguments& more = {}) const {
        Arguments arguments{"mend", bag().string()};
        arguments.insert(arguments.end(), more.begin(), more.end());
        return home.glassine(arguments);
    }

    Json mend_json(int code, const Arguments& more = {}) const {
        Arguments arguments = more;
        arguments.push_back("--json");
        const auto ended = mend(arguments);
        INFO(ended.out << ended.err);
        REQUIRE(ended.code == code);
        Json json = json_of(ended);
        CHECK(json.at("command") == "mend");
        CHECK(json.at("outcome") == (code == 0 ? "ok" : "attention"));
        return json;
    }

    /// The quarantine folders beside the bag.
    std::vector<fs::path> quarantines() const {
        std::vector<fs::path> out;
        for (const auto& entry : fs::directory_iterator(home / "shelf"))
            if (entry.path().filename().string().starts_with("bag.quarantine-"))
                out.push_back(entry.path());
        return out;
    }

    Home home;
    Tree sealed;
};

Names names(const Json& list) {
    Names out;
    for (const Json& name : list)
        out.insert(name.get<std::string>());
    return out;
}

void flip(std::string& content, std::size_t byte, unsigned bit = 4) {
    content.at(byte) = static_cast<char>(content[byte] ^ (1 << bit));
}

constexpr const char* raw = "data/originals/GLS_0001.DNG";
constexpr const char* film = "data/originals/GLS_FILM.mov";
constexpr const char* print = "data/print/GLS_0002.jpg";

/// One kind of damage: what is done, and which files it hits.
struct Damage {
    const char* what;
    std::function<void(Tree&)> act;
};

const std::vector<Damage>& all_damage() {
    static const std::vector<Damage> all{
        {"a flipped bit", [](Tree& t) { flip(t.at(raw), 1000); }},
        {"a zeroed sector", [](Tree& t) { t.at(film).replace(8192, 4096, 4096, '\0'); }},
        {"a foreign sector", [](Tree& t) { t.at(film).replace(40960, 4096, noise(4096, 9)); }},
        {"a burst", [](Tree& t) { t.at(film).replace(30000, 60000, noise(60000, 8)); }},
        {"a truncated file", [](Tree& t) { t.at(print).resize(t.at(print).size() / 3); }},
        {"an emptied file", [](Tree& t) { t.at(print).clear(); }},
        {"a grown file", [](Tree& t) { t.at(print) += "and more"; }},
        {"a lost file", [](Tree& t) { t.erase(print); }},
        {"a damaged tag file", [](Tree& t) { flip(t.at("bag-info.txt"), 20); }},
        {"a lost tag file", [](Tree& t) { t.erase("events.jsonl"); }},
        {"a damaged declaration", [](Tree& t) { flip(t.at("bagit.txt"), 15); }},
        {"a lost declaration", [](Tree& t) { t.erase("bagit.txt"); }},
        {"a damaged manifest", [](Tree& t) { flip(t.at("manifest-sha512.txt"), 200); }},
        {"a cut manifest", [](Tree& t) { t.at("manifest-sha512.txt").resize(300); }},
        {"a lost manifest", [](Tree& t) { t.erase("manifest-sha512.txt"); }},
        {"a digit of the tag manifest",
         [](Tree& t) { flip(t.at("tagmanifest-sha512.txt"), 5, 0); }},
        {"a digit's case",
         [](Tree& t) {
             std::string& text = t.at("tagmanifest-sha512.txt");
             const auto letter = text.find_first_of("abcdef");
             flip(text, letter, 5);
         }},
        {"a path of the tag manifest",
         [](Tree& t) { flip(t.at("tagmanifest-sha512.txt"), 132, 0); }},
        {"an emptied tag manifest", [](Tree& t) { t.at("tagmanifest-sha512.txt").clear(); }},
        {"a lost tag manifest", [](Tree& t) { t.erase("tagmanifest-sha512.txt"); }},
        {"a damaged recovery file",
         [](Tree& t) {
             t.at("recovery/payload-0001.recovery").replace(3000, 5000, noise(5000, 7));
         }},
        {"a cut recovery file",
         [](Tree& t) { t.at("recovery/payload-0001.recovery").resize(500); }},
        {"a lost recovery file", [](Tree& t) { t.erase("recovery/payload-0001.recovery"); }},
        {"the tag files' recovery file lost",
         [](Tree& t) { t.erase("recovery/tags-0001.recovery"); }},
    };
    return all;
}

constexpr JobSize job_size{.kept = 2, .rejected = 1, .film_bytes = 800'000};
const Arguments ten_percent{"--recovery", "10"};

}  // namespace

TEST_CASE("mend heals every kind of damage, bit for bit, and a dry run tells the same") {
    const Bench bench(job_size, ten_percent);
    for (const Damage& damage : all_damage()) {
        INFO(damage.what);
        Tree hurt = bench.sealed;
        damage.act(hurt);
        const Names wrong = differences(bench.sealed, hurt);
        REQUIRE(wrong.size() == 1);
        bench.put(hurt);

        const Json dry = bench.mend_json(1, {"--dry-run"});
        CHECK(names(dry.at("healed")) == wrong);
        CHECK(dry.at("beyond_repair").empty());
        CHECK(dry.at("dry_run") == true);
        CHECK(tree_of(bench.bag()) == hurt);
        CHECK(bench.quarantines().empty());

        const Json done = bench.mend_json(0);
        CHECK(names(done.at("healed")) == wrong);
        CHECK(done.at("beyond_repair").empty());
        CHECK(tree_of(bench.bag()) == bench.sealed);
        CHECK(bench.home.glassine({"audit", bench.bag().string(), "--quiet"}).code == 0);

        // The damaged file is kept, outside the bag, byte for byte.
        REQUIRE(bench.quarantines().size() == 1);
        CHECK(done.at("quarantine") == bench.quarantines()[0].string());
        const Tree kept = tree_of(bench.quarantines()[0]);
        if (hurt.contains(*wrong.begin()))
            CHECK(kept.at(*wrong.begin() + ".damaged") == hurt.at(*wrong.begin()));
        else
            CHECK(kept.size() == 1);
        CHECK(contains(kept.at("healing.txt"), *wrong.begin()));
    }
}

TEST_CASE("mend heals mixtures of damage in one run") {
    const Bench bench(job_size, ten_percent);
    for (const auto& mixture : std::vector<std::vector<const char*>>{
             {"a flipped bit", "a lost file", "a cut manifest", "a damaged recovery file"},
             {"a burst", "a damaged tag file", "a damaged declaration", "a lost manifest"},
             {"a zeroed sector", "a lost tag file", "the tag files' recovery file lost"},
             {"a damaged recovery file", "a path of the tag manifest"},
             {"a foreign sector", "a truncated file", "a lost tag manifest"},
         }) {
        Tree hurt = bench.sealed;
        std::string all;
        for (const char* what : mixture) {
            const auto& list = all_damage();
            std::ranges::find(list, std::string(what), &Damage::what)->act(hurt);
            all += std::string(what) + ", ";
        }
        INFO(all);
        bench.put(hurt);
        const auto dry = bench.mend_json(1, {"--dry-run"});
        const bool all_back = dry.at("beyond_repair").empty();
        const Json done = bench.mend_json(all_back ? 0 : 1);
        CHECK(done.at("healed") == dry.at("healed"));
        CHECK(done.at("beyond_repair") == dry.at("beyond_repair"));
        CHECK(names(done.at("beyond_repair")) == differences(bench.sealed, tree_of(bench.bag())));
    }
}

TEST_CASE("mend tells and logs which bits and bytes had changed") {
    const Bench bench(job_size, ten_percent);
    Tree hurt = bench.sealed;
    flip(hurt.at(raw), 1000, 3);
    hurt.at(film).replace(8192, 4096, 4096, '\0');
    hurt.at(print).resize(100);
    bench.put(hurt);
    const auto ended = bench.mend();
    INFO(ended.out << ended.err);
    CHECK(ended.code == 0);
    const std::string log = content_of(bench.quarantines().at(0) / "healing.txt");
    for (const std::string& text : {ended.out, log}) {
        CHECK(contains(text, raw));
        CHECK(contains(text, "bit 3 of byte 1,000 was flipped"));
        CHECK(contains(text, "bytes 8,192 to 12,287 were zero"));
    }
    CHECK(contains(ended.out, "3 files healed"));
    CHECK(contains(ended.out, "the bag is whole"));
    CHECK(contains(ended.out, bench.quarantines()[0].string()));
}

TEST_CASE("a whole bag needs no mending, and nothing is written") {
    const Bench bench(job_size);
    bench.put(bench.sealed);
    const std::string before = tree_fingerprint(bench.home / "shelf");
    const Json json = bench.mend_json(0);
    CHECK(json.at("healed").empty());
    CHECK(json.at("beyond_repair").empty());
    CHECK(json.at("quarantine") == "");
    CHECK(tree_fingerprint(bench.home / "shelf") == before);
    CHECK(contains(bench.mend().out, "nothing to heal"));
}

TEST_CASE("what cannot be healed is listed and stays as it is") {
    const Bench bench(job_size, {"--recovery", "none"});
    Tree hurt = bench.sealed;
    flip(hurt.at(raw), 1000);
    hurt.erase(print);
    hurt.at("bag-info.txt") += "x";
    bench.put(hurt);
    for (const bool dry : {true, false}) {
        const Json json = bench.mend_json(1, dry ? Arguments{"--dry-run"} : Arguments{});
        CHECK(json.at("healed").empty());
        CHECK(names(json.at("beyond_repair")) == Names{raw, print, "bag-info.txt"});
        CHECK(tree_of(bench.bag()) == hurt);
        CHECK(bench.quarantines().empty());
    }
    // With another copy, all of it comes back.
    write_tree(bench.copy("other"), bench.sealed);
    const Json json = bench.mend_json(0, {"--from", bench.copy("other").string()});
    CHECK(names(json.at("healed")) == Names{raw, print, "bag-info.txt"});
    CHECK(tree_of(bench.bag()) == bench.sealed);
    CHECK(json.at("details")[0].at("from") == bench.copy("other").string());
}

TEST_CASE("copies that are damaged in different places heal each other block by block") {
    const Bench bench(job_size, {"--recovery", "1"});
    // Far more than 1 % can bring back, in each copy; no block is damaged in all three.
    const auto hurt = [&](std::size_t third) {
        Tree tree = bench.sealed;
        std::string& content = tree.at(film);
        for (std::size_t block = 0; (block + 1) * 16384 <= content.size(); ++block)
            if (block % 3 != third) content.replace(block * 16384 + 100, 300, noise(300, 5));
        return tree;
    };
    bench.put(hurt(0));
    write_tree(bench.copy("second"), hurt(1));
    write_tree(bench.copy("third"), hurt(2));
    const Tree second = tree_of(bench.copy("second"));

    CHECK(names(bench.mend_json(1, {"--dry-run"}).at("beyond_repair")) == Names{film});
    CHECK(
        names(bench.mend_json(1, {"--from", bench.copy("second").string()}).at("beyond_repair")) ==
        Names{film});
    const Arguments from{"--from", bench.copy("second").string(), "--from",
                         bench.copy("third").string()};
    const Json json = bench.mend_json(0, from);
    CHECK(names(json.at("healed")) == Names{film});
    CHECK(tree_of(bench.bag()) == bench.sealed);
    CHECK(tree_of(bench.copy("second")) == second);  // the copies that help are only read
}

TEST_CASE("another bag is no help, and does no harm") {
    const Bench bench(job_size, {"--recovery", "none"});
    Tree other = bench.sealed;
    for (auto& [name, content] : other)
        if (name.starts_with("data/") || name.find("manifest") != std::string::npos)
            content = noise(content.size() + 1, 3);
    write_tree(bench.copy("elsewhere"), other);
    Tree hurt = bench.sealed;
    hurt.erase(raw);
    hurt.erase("manifest-sha512.txt");
    hurt.erase("tagmanifest-sha512.txt");
    bench.put(hurt);
    write_tree(bench.copy("elsewhere"), other);
    const auto ended = bench.mend({"--from", bench.copy("elsewhere").string()});
    INFO(ended.out << ended.err);
    CHECK(ended.code == 1);
    CHECK(tree_of(bench.bag()) == hurt);
}

TEST_CASE("mend refuses what is no bag, and a bag that another run is mending") {
    const Home home;
    const fs::path empty = home.drive("empty");
    for (const Arguments& arguments :
         {Arguments{"mend", empty.string()}, {"mend", (home / "nowhere").string()}}) {
        const auto ended = home.glassine(arguments);
        INFO(ended.err);
        CHECK(ended.code == 3);
        CHECK(contains(ended.err, arguments[1]));
    }
    const fs::path bag = home.sealed_bag();
    const auto ended = home.glassine({"mend", bag.string(), "--from", empty.string()});
    CHECK(ended.code == 3);
    CHECK(contains(ended.err, "not a bag"));
    CHECK(home.glassine({"mend"}).code == 2);
    CHECK(home.glassine({"mend", bag.string(), "--heal"}).code == 2);
}

TEST_CASE("links inside a damaged bag lead nowhere") {
    const Bench bench(job_size, ten_percent);
    Tree hurt = bench.sealed;
    bench.put(hurt);
    const fs::path outside = bench.home / "outside";
    fs::create_directories(outside);
    fs::rename(bench.bag() / "data/web", outside / "web");
    fs::create_directory_symlink(outside / "web", bench.bag() / "data/web");
    fs::remove(outside / "web/GLS_0001.jpg");
    const std::string before = tree_fingerprint(outside);
    const Json json = bench.mend_json(0);
    CHECK(tree_fingerprint(outside) == before);
    CHECK(tree_of(bench.bag()) == bench.sealed);
    CHECK_FALSE(fs::is_symlink(bench.bag() / "data/web"));
}

TEST_CASE("mend killed at random moments: nothing is worse, and the next run heals") {
    const Bench bench({.kept = 1, .rejected = 1, .film_bytes = 6'000'000}, ten_percent);
    Tree hurt = bench.sealed;
    flip(hurt.at(film), 5000);
    hurt.at(film).replace(2'000'000, 100'000, 100'000, '\0');
    hurt.erase("data/web/GLS_0001.jpg");
    hurt.at("manifest-sha512.txt").resize(100);
    flip(hurt.at(raw), 77);
    flip(hurt.at("recovery/payload-0001.recovery"), 7000);
    bench.put(hurt);
    using Clock = std::chrono::steady_clock;
    const auto start = Clock::now();
    REQUIRE(bench.mend({"--quiet"}).code == 0);
    double whole = std::chrono::duration<double>(Clock::now() - start).count();
    std::mt19937_64 random(7);
    std::uniform_real_distribution<double> part(0.0, 1.0);
    int met = 0;
    const int rounds = sanitized ? 8 : 25;
    for (int i = 0; i < rounds; ++i) {
        INFO("kill " << i);
        bench.put(hurt);
        // Up to three kills one after the other, then a run to the end.
        for (int k = 0; k <= i % 3; ++k) {
            RunningProgram program(bench.home.start({"mend", bench.bag().string(), "--quiet"}));
            const double moment = whole * part(random);
            std::this_thread::sleep_for(std::chrono::duration<double>(moment));
            program.send(SIGKILL);
            if (program.wait().signal == SIGKILL)
                ++met;
            else if (k == 0)
                whole = moment;  // the machine is less busy than when the time was taken
            const Tree now = tree_of(bench.bag());
            for (const std::string& name : differences(hurt, now)) {
                INFO(name);
                REQUIRE(now.contains(name));
                REQUIRE(now.at(name) == bench.sealed.at(name));
            }
        }
        const auto ended = bench.mend({"--quiet"});
        INFO(ended.out << ended.err);
        REQUIRE(ended.code == 0);
        REQUIRE(tree_of(bench.bag()) == bench.sealed);
        for (const auto& entry : fs::directory_iterator(bench.home / "shelf"))
            REQUIRE_FALSE(entry.path().filename().string().starts_with("."));
    }
    CHECK(met > rounds / 2);
}

TEST_CASE("Ctrl-C while mending ends with 130, and what was healed is told") {
    const Bench bench({.kept = 1, .rejected = 1, .film_bytes = 40'000'000}, {"--recovery", "2"});
    Tree hurt = bench.sealed;
    flip(hurt.at(film), 5000);
    bench.put(hurt);
    const auto ended =
        bench.home.interrupted({"mend", bench.bag().string(), "--json"},
                               {{"Looking for damage", SIGINT}}, [&] { bench.put(hurt); });
    INFO(ended.out << ended.err);
    CHECK(ended.code == 130);
    CHECK(json_of(ended).at("outcome") == "interrupted");
    const Tree now = tree_of(bench.bag());
    CHECK((now == hurt || now == bench.sealed));
    CHECK(bench.mend({"--quiet"}).code == 0);
    CHECK(tree_of(bench.bag()) == bench.sealed);
}

TEST_CASE("a decoder written from the format's page alone heals bags of the real program") {
    const Bench bench(job_size, ten_percent);
    const auto decode = [&] {
        const auto ended = run({"python3", SOURCE_TREE "/tests/recovery/decoder.py",
                                bench.bag().string(), (bench.home / "out").string()});
        return json_of(ended);
    };
    Tree hurt = bench.sealed;
    flip(hurt.at(raw), 1000);
    hurt.erase(print);
    hurt.at(film).replace(10000, 20000, noise(20000, 4));
    flip(hurt.at("events.jsonl"), 30);
    bench.put(hurt);
    const Json healed = decode();
    CHECK(names(healed.at("healed")) == Names{raw, print, film, "events.jsonl"});
    for (const auto& [name, content] : tree_of(bench.home / "out"))
        CHECK(content == bench.sealed.at(name));
    CHECK(names(bench.mend_json(0).at("healed")) == names(healed.at("healed")));

    // Beyond repair for the one is beyond repair for the other.
    hurt.at(film) = noise(hurt.at(film).size(), 6);
    bench.put(hurt);
    CHECK(names(decode().at("beyond")) == names(bench.mend_json(1).at("beyond_repair")));
}
