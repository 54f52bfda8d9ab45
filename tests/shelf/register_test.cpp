#include "glassine/shelf/register.h"

#include "shelf/shelf_values.h"
#include "support/temp_folder.h"

#include <algorithm>
#include <random>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;
using namespace glassine::test;

namespace {

io::FileSystem& files() {
    return io::posix_file_system();
}

struct Fresh {
    test::TempFolder home;
    io::Path path = home / "register.sqlite";
    Register reg = make();

    Register make() {
        Register::create(files(), path);
        return Register(files(), path);
    }
};

CopyState state(Register& reg, std::string_view bag, std::string_view volume) {
    const Facts facts = reg.facts();
    const CopyFacts* copy = find(facts, bag, volume);
    REQUIRE(copy);
    return copy->state;
}

}  // namespace

TEST_CASE("a bag is known with its job, its copies and its files") {
    Fresh fresh;
    Register& reg = fresh.reg;
    reg.record_volume(test::volume("a", VolumeKind::drive), "/mnt/a");
    BagRecord record = test::bag("gala", "a");
    record.number = "J-77";
    reg.record_bag(record);

    const Facts facts = reg.facts();
    REQUIRE(facts.bags.size() == 1);
    const BagFacts& bag = facts.bags[0];
    CHECK(bag.name == "gala");
    CHECK(bag.job == "J-77");
    CHECK(bag.clients == record.clients);
    CHECK(bag.shoot_date == record.shoot_date);
    CHECK(bag.sealed == record.sealed);
    CHECK(bag.description == "sailing gala");
    CHECK(bag.payload_files == record.payload_files);
    CHECK(bag.payload_bytes == record.payload_bytes);
    REQUIRE(bag.copies.size() == 1);
    CHECK(bag.copies[0].path == "archive/gala");
    CHECK(bag.copies[0].state == CopyState::unproven);
    REQUIRE(facts.volumes.size() == 1);
    CHECK(facts.volumes[0].identity == test::volume("a", VolumeKind::drive));
    CHECK(facts.volumes[0].root == "/mnt/a");

    auto payload = record.payload;
    std::sort(payload.begin(), payload.end(),
              [](const auto& a, const auto& b) { return a.path < b.path; });
    const auto read = reg.payload({"gala", record.seal});
    REQUIRE(read.size() == payload.size());
    for (std::size_t i = 0; i < read.size(); ++i) {
        CHECK(read[i].path == payload[i].path);
        CHECK(read[i].digest == payload[i].digest);
    }
    CHECK(reg.algorithms() == std::vector{digest::Algorithm::sha512});
}

TEST_CASE("what happened to a copy decides how it stands") {
    Fresh fresh;
    Register& reg = fresh.reg;
    reg.record_volume(test::volume("a", VolumeKind::drive), "/mnt/a");
    const BagRecord record = test::bag("gala", "a");
    reg.record_bag(record);
    namespace t = event_type;

    reg.record_event(about(t::replication, "2025-09-20", record));
    CHECK(state(reg, "gala", "a") == CopyState::unproven);
    reg.record_event(about(t::fixity_check, "2025-09-21", record, Outcome::partial));
    CHECK(state(reg, "gala", "a") == CopyState::unproven);
    reg.record_event(about(t::validation, "2025-09-21", record));
    CHECK(state(reg, "gala", "a") == CopyState::unproven);
    reg.record_event(about(t::fixity_check, "2025-09-22", record));
    CHECK(state(reg, "gala", "a") == CopyState::whole);
    reg.record_event(about(t::fixity_check, "2026-09-22", record, Outcome::failure, "x differs"));
    CHECK(state(reg, "gala", "a") == CopyState::damaged);
    reg.record_event(about(t::recovery, "2026-09-23", record));
    CHECK(state(reg, "gala", "a") == CopyState::damaged);
    reg.record_event(about(t::fixity_check, "2026-09-24", record));
    CHECK(state(reg, "gala", "a") == CopyState::whole);

    const Facts facts = reg.facts();
    const CopyFacts& copy = *find(facts, "gala", "a");
    CHECK(copy.made == at("2025-09-20"));
    CHECK(copy.proven == at("2026-09-24"));
    CHECK(copy.first_error == at("2026-09-22"));
    CHECK(copy.last_error == at("2026-09-22"));
    CHECK(facts.volumes[0].last_error == at("2026-09-22"));
    CHECK(facts.volumes[0].last_seen == at("2026-09-24"));

    reg.record_event(about(t::deaccession, "2027-01-01", record));
    CHECK(state(reg, "gala", "a") == CopyState::gone);
    reg.record_event(about(t::replication, "2027-02-01", record));
    CHECK(state(reg, "gala", "a") == CopyState::unproven);
}

TEST_CASE("a proof counts only for the seal it names") {
    Fresh fresh;
    Register& reg = fresh.reg;
    const BagRecord record = test::bag("gala", "a");
    reg.record_bag(record);
    BagRecord other = record;
    other.seal = seal("another");
    reg.record_event(about(event_type::fixity_check, "2025-09-22", other));
    const Facts facts = reg.facts();
    for (const CopyFacts& copy : find(facts, "gala")->copies) {
        if (copy.seal == record.seal) CHECK(copy.state == CopyState::unproven);
    }
}

TEST_CASE("a volume taken out of service holds nothing, until it comes back") {
    Fresh fresh;
    Register& reg = fresh.reg;
    const BagRecord record = test::bag("gala", "a");
    reg.record_bag(record);
    reg.record_event(about_volume(event_type::deaccession, "2026-01-01", "a"));
    CHECK(state(reg, "gala", "a") == CopyState::retired);
    reg.record_event(about_volume(event_type::accession, "2026-02-01", "a"));
    CHECK(state(reg, "gala", "a") == CopyState::unproven);
}

TEST_CASE("everything may be recorded twice and in any order") {
    std::vector<BagRecord> bags;
    std::vector<Event> events;
    for (const char* name : {"one", "two", "three"}) {
        for (const char* id : {"a", "b"}) {
            bags.push_back(test::bag(name, id));
            events.push_back(about(event_type::replication, "2025-01-01", bags.back()));
            events.push_back(about(event_type::fixity_check, "2025-01-02", bags.back()));
        }
    }
    events.push_back(about(event_type::fixity_check, "2025-02-01", bags[0], Outcome::failure, "x"));
    events.push_back(about_volume(event_type::deaccession, "2025-03-01", "b"));

    Fresh first;
    for (const BagRecord& bag : bags)
        first.reg.record_bag(bag);
    CHECK(first.reg.record_events(events) == events.size());
    CHECK(first.reg.record_events(events) == 0);
    const Facts facts = first.reg.facts();
    for (const BagRecord& bag : bags)
        first.reg.record_bag(bag);
    CHECK(first.reg.facts() == facts);

    std::mt19937 random(7);
    for (int round = 0; round < 5; ++round) {
        std::shuffle(bags.begin(), bags.end(), random);
        std::shuffle(events.begin(), events.end(), random);
        Fresh again;
        again.reg.record_events(std::span(events).first(events.size() / 2));
        for (const BagRecord& bag : bags)
            again.reg.record_bag(bag);
        again.reg.record_events(events);
        CHECK(again.reg.facts() == facts);
    }
}

TEST_CASE("names with quotes, line breaks, percent signs and right-to-left text are only names") {
    Fresh fresh;
    Register& reg = fresh.reg;
    const std::vector<std::string> names{"O'Hara; DROP TABLE bags;--",
                                         "\"quoted\" 'twice'",
                                         "line\nbreak\r\n",
                                         "100%_like_[x]*?",
                                         "\xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D \xE2\x80\xAE"
                                         "drow",
                                         "NFD e\xCC\x81",
                                         "bytes \xff\xfe",
                                         "\xF0\x9F\x93\xB7",
                                         "back\\slash",
                                         " "};
    for (const std::string& name : names) {
        BagRecord record = test::bag(name, "vol '" + name);
        record.clients = {name, name};
        record.description = name;
        record.payload = {{"data/" + name + "/" + name + ".NEF", content(name)}};
        VolumeIdentity identity = test::volume(record.volume, VolumeKind::server, name);
        identity.label = name;
        reg.record_volume(identity, "/mnt/" + name);
        reg.record_bag(record);
        // In an event's line ill-formed bytes are replaced: such a name cannot be told there.
        if (name != "bytes \xff\xfe") {
            reg.record_event(about(event_type::fixity_check, "2025-01-01", record));
            CHECK(reg.events_of_bag(name).size() == 1);
            CHECK(state(reg, name, record.volume) == CopyState::whole);
        }
    }
    const Facts facts = reg.facts();
    CHECK(facts.bags.size() == names.size());
    for (const std::string& name : names) {
        const BagFacts* bag = find(facts, name);
        REQUIRE(bag);
        CHECK(bag->clients == std::vector{name, name});
        CHECK(bag->description == name);
        CHECK(facts.volume("vol '" + name)->identity.place == name);
        const auto payload = reg.payload({name, seal(name)});
        REQUIRE(payload.size() == 1);
        CHECK(payload[0].path == "data/" + name + "/" + name + ".NEF");
        CHECK_FALSE(reg.holdings()->find(content(name)).empty());
    }
}

TEST_CASE("paths come back byte for byte, whatever dots and slashes they have") {
    Fresh fresh;
    BagRecord record = test::bag("gala", "a");
    record.payload.clear();
    for (const char* path : {"data/a", "data/.hidden", "data/a.b.c", "data/a.", "data/dir.x/file",
                             "data/x.NEF", "data/x.nef", "data/x.NEF.xmp", "data/y/x.NEF"}) {
        record.payload.push_back({path, content(path)});
    }
    fresh.reg.record_bag(record);
    std::vector<std::string> read;
    for (const PayloadFile& file : fresh.reg.payload({"gala", record.seal})) {
        read.push_back(file.path);
        CHECK(file.digest == content(file.path));
    }
    std::vector<std::string> written;
    for (const PayloadFile& file : record.payload)
        written.push_back(file.path);
    std::sort(written.begin(), written.end());
    CHECK(read == written);
}

TEST_CASE("the algorithms that are held are known, of rejected raws as well") {
    Fresh fresh;
    CHECK(fresh.reg.algorithms().empty());
    BagRecord record = test::bag("gala", "a");
    record.payload = {
        {"data/reject-proxies/KLA_9999.jpg", digest::digest_of(digest::Algorithm::md5, "proxy")}};
    fresh.reg.record_bag(record);
    CHECK(fresh.reg.algorithms() == std::vector{digest::Algorithm::md5, digest::Algorithm::sha512});
}

TEST_CASE("contents are found with every copy that stands, and rejected raws by their proxy") {
    Fresh fresh;
    Register& reg = fresh.reg;
    for (const char* id : {"a", "b", "c"}) {
        reg.record_volume(test::volume(id, VolumeKind::drive), std::string("/mnt/") + id);
        const BagRecord record = test::bag("gala", id);
        reg.record_bag(record);
        if (*id != 'c') reg.record_event(about(event_type::fixity_check, "2025-09-22", record));
    }
    const auto holdings = reg.holdings();
    const auto held = holdings->find(content("galadata/originals/KLA_0001.NEF"));
    REQUIRE(held.size() == 1);
    CHECK(held[0].where == "gala: data/originals/KLA_0001.NEF");
    CHECK_FALSE(held[0].by_proxy);
    REQUIRE(held[0].copies.size() == 3);
    CHECK(std::count_if(held[0].copies.begin(), held[0].copies.end(),
                        [](const HeldCopy& copy) { return copy.whole; }) == 2);
    const auto rejected = holdings->find(content("galaKLA_9999.NEF"));
    REQUIRE(rejected.size() == 1);
    CHECK(rejected[0].by_proxy);
    CHECK(holdings->find(content("nobody has this")).empty());

    // Only the first bytes of a digest are indexed: the rest still counts.
    const digest::Value whole = content("galadata/originals/KLA_0001.NEF");
    std::vector<std::byte> nearly(whole.bytes().begin(), whole.bytes().end());
    nearly.back() ^= std::byte{1};
    CHECK(holdings->find(digest::Value(nearly)).empty());
}

TEST_CASE("a rejected raw whose proxy is not in the bag is held nowhere") {
    Fresh fresh;
    BagRecord record = test::bag("gala", "a");
    record.rejected.push_back({"KLA_8888.NEF", content("lost"), "data/reject-proxies/no.jpg"});
    fresh.reg.record_bag(record);
    CHECK(fresh.reg.holdings()->find(content("lost")).empty());
}

TEST_CASE("a bag that was not found again is missing, and only where it was looked for") {
    Fresh fresh;
    Register& reg = fresh.reg;
    BagRecord one = test::bag("one", "a");
    one.path = "2025/one";
    BagRecord two = test::bag("two", "a");
    two.path = "2026/two";
    const BagRecord elsewhere = test::bag("one", "b");
    for (const BagRecord& bag : {one, two, elsewhere})
        reg.record_bag(bag);

    reg.finish_scan("a", "2026", {});
    CHECK(state(reg, "one", "a") == CopyState::unproven);
    CHECK(state(reg, "two", "a") == CopyState::missing);
    reg.finish_scan("a", "202", {});
    CHECK(state(reg, "one", "a") == CopyState::unproven);
    const std::vector<SeenCopy> seen{{{"two", two.seal}}};
    reg.finish_scan("a", "", seen);
    CHECK(state(reg, "one", "a") == CopyState::missing);
    CHECK(state(reg, "two", "a") == CopyState::unproven);
    CHECK(state(reg, "one", "b") == CopyState::unproven);
    reg.record_bag(one);
    CHECK(state(reg, "one", "a") == CopyState::unproven);
}

TEST_CASE("events alone tell of a copy that is no longer there") {
    Fresh fresh;
    Register& reg = fresh.reg;
    const BagRecord record = test::bag("gala", "a");
    reg.record_event(about(event_type::ingestion, "2025-09-20", record));
    CHECK(state(reg, "gala", "a") == CopyState::missing);
    reg.record_bag(record);
    CHECK(state(reg, "gala", "a") == CopyState::unproven);
    CHECK(reg.facts().bags[0].description == "sailing gala");
}

TEST_CASE("a bag exchanged with its manifests does not count as a copy") {
    Fresh fresh;
    Register& reg = fresh.reg;
    const BagRecord sealed = test::bag("gala", "a");
    reg.record_bag(sealed);
    reg.record_event(about(event_type::ingestion, "2025-09-20", sealed));
    reg.record_event(about(event_type::fixity_check, "2025-09-20", sealed));

    BagRecord exchanged = sealed;
    exchanged.seal = seal("exchanged");
    exchanged.payload_bytes += 1;
    exchanged.payload[0].digest = content("forged");
    reg.record_bag(exchanged);
    reg.record_event(about(event_type::fixity_check, "2026-09-20", exchanged));
    reg.finish_scan("a", "", std::vector<SeenCopy>{{{"gala", exchanged.seal}}});

    const Facts facts = reg.facts();
    REQUIRE(facts.bags.size() == 1);
    REQUIRE(facts.bags[0].copies.size() == 2);
    for (const CopyFacts& copy : facts.bags[0].copies) {
        CHECK(copy.state == (copy.seal == sealed.seal ? CopyState::missing : CopyState::replaced));
    }
    const auto held = reg.holdings()->find(content("forged"));
    REQUIRE(held.size() == 1);
    for (const HeldCopy& copy : held[0].copies)
        CHECK_FALSE(copy.whole);
    CHECK(judge_seal(reg.seal_witnesses("gala"), exchanged.seal, "a") == SealVerdict::replaced);
    CHECK(judge_seal(reg.seal_witnesses("gala"), sealed.seal, "a") == SealVerdict::as_sealed);
}

TEST_CASE("a bag given new digests is the same bag in two versions") {
    Fresh fresh;
    Register& reg = fresh.reg;
    const BagRecord old = test::bag("gala", "a");
    reg.record_bag(old);
    BagRecord upgraded = old;
    upgraded.seal = seal("upgraded");
    upgraded.volume = "b";
    reg.record_bag(upgraded);
    Event giving = new_event(event_type::message_digest_calculation, at("2026-01-01"));
    giving.with_object(object_type::bag, "gala")
        .with_object(object_type::seal, old.seal, "source")
        .with_object(object_type::seal, upgraded.seal, "outcome")
        .with_object(object_type::volume, "b");
    reg.record_event(giving);
    reg.record_event(about(event_type::fixity_check, "2026-01-01", old));
    reg.record_event(about(event_type::fixity_check, "2026-01-01", upgraded));

    const Facts facts = reg.facts();
    REQUIRE(facts.bags.size() == 1);
    CHECK(find(facts, "gala", "a")->state == CopyState::whole);
    CHECK(find(facts, "gala", "b")->state == CopyState::whole);
}

TEST_CASE("two jobs of one name stay two bags") {
    Fresh fresh;
    Register& reg = fresh.reg;
    reg.record_bag(test::bag("wedding", "a", 2));
    BagRecord other = test::bag("wedding", "b", 5);
    other.seal = seal("another wedding");
    reg.record_bag(other);
    reg.record_event(about(event_type::ingestion, "2025-01-01", other));
    const Facts facts = reg.facts();
    REQUIRE(facts.bags.size() == 2);
    CHECK(facts.bags[0].copies.size() == 1);
    CHECK(facts.bags[0].copies[0].state == CopyState::unproven);
    CHECK(facts.bags[1].copies.size() == 1);
}

TEST_CASE("the later written identity of a volume holds") {
    Fresh fresh;
    VolumeIdentity early = test::volume("a", VolumeKind::drive, "cupboard A");
    VolumeIdentity late = early;
    late.place = "vault";
    late.written = at("2025-05-05");
    fresh.reg.record_volume(late, "/mnt/x");
    fresh.reg.record_volume(early, "/mnt/y");
    const Facts facts = fresh.reg.facts();
    CHECK(facts.volumes[0].identity == late);
    CHECK(facts.volumes[0].root == "/mnt/y");
}

TEST_CASE("dates set for a bag after it was sealed hold, the last word over the first") {
    Fresh fresh;
    const BagRecord record = test::bag("gala", "a");
    fresh.reg.record_bag(record);
    Event later = about(event_type::policy_assignment, "2026-02-01", record);
    later.with_figure(figure::keep_until, "2040-12-31");
    Event earlier = about(event_type::policy_assignment, "2026-01-01", record);
    earlier.with_figure(figure::keep_until, "2030-12-31");
    earlier.with_figure(figure::promised_until, "2028-01-01");
    fresh.reg.record_event(later);
    fresh.reg.record_event(earlier);
    const Facts facts = fresh.reg.facts();
    CHECK(facts.bags[0].keep_until == day("2040-12-31"));
    CHECK(facts.bags[0].promised_until == day("2028-01-01"));
}

TEST_CASE("an interrupted audit is remembered until the bag is checked") {
    Fresh fresh;
    Register& reg = fresh.reg;
    const BagRecord record = test::bag("gala", "a");
    reg.record_bag(record);
    const BagKey key{record.name, record.seal};
    CHECK_FALSE(reg.audit_progress(key, "a").since);
    const std::vector<std::string> first{"data/b", "data/it's"};
    const std::vector<std::string> second{"data/a", "data/b"};
    reg.add_audit_progress(key, "a", at("2026-01-01"), first);
    reg.add_audit_progress(key, "a", at("2026-01-02"), second);
    AuditProgress progress = reg.audit_progress(key, "a");
    CHECK(progress.since == at("2026-01-01"));
    CHECK(progress.files == std::vector<std::string>{"data/a", "data/b", "data/it's"});
    CHECK_FALSE(reg.audit_progress(key, "b").since);

    reg.record_event(about(event_type::fixity_check, "2026-01-03", record, Outcome::partial));
    CHECK(reg.audit_progress(key, "a").since);
    reg.record_event(about(event_type::fixity_check, "2026-01-04", record));
    CHECK_FALSE(reg.audit_progress(key, "a").since);
    CHECK(reg.audit_progress(key, "a").files.empty());
}

TEST_CASE("checksums of a store are kept by object, below a path and no further") {
    Fresh fresh;
    Register& reg = fresh.reg;
    reg.note_object_checksums("a", {{"gala/data/1", "x"}, {"gala/data/2", "y"}, {"gala", "z"}});
    reg.note_object_checksums("a", {{"gala-2/data/1", "other"}, {"gala.tar", "t"}});
    reg.note_object_checksums("b", {{"gala/data/1", "of b"}});
    using Checksums = Register::ObjectChecksums;
    CHECK(reg.object_checksums("a", "gala") ==
          Checksums{{"gala", "z"}, {"gala/data/1", "x"}, {"gala/data/2", "y"}});
    CHECK(reg.object_checksums("a", "gala.tar") == Checksums{{"gala.tar", "t"}});
    CHECK(reg.object_checksums("none", "gala").empty());
    reg.note_object_checksums("a", {{"gala/data/1", "new"}});
    CHECK(reg.object_checksums("a", "gala").at("gala/data/1") == "new");
    reg.forget_object_checksums("a", "gala");
    CHECK(reg.object_checksums("a", "gala").empty());
    CHECK(reg.object_checksums("a", "gala-2").size() == 1);
    CHECK(reg.object_checksums("b", "gala").size() == 1);
}

TEST_CASE("rates are read out of the events of past audits") {
    Fresh fresh;
    const BagRecord record = test::bag("gala", "a");
    Event audit = about(event_type::fixity_check, "2026-01-04", record);
    audit.with_figure(figure::bytes, "2000000000").with_figure(figure::seconds, "12.5");
    fresh.reg.record_event(audit);
    fresh.reg.record_event(about(event_type::fixity_check, "2026-01-05", record));
    const auto rates = fresh.reg.rates("a");
    REQUIRE(rates.size() == 1);
    CHECK(rates[0].bag == "gala");
    CHECK(rates[0].bytes == 2'000'000'000);
    CHECK(rates[0].seconds == Approx(12.5));
}

TEST_CASE("a batch is kept whole or not at all") {
    Fresh fresh;
    {
        Register::Batch batch(fresh.reg);
        fresh.reg.record_bag(test::bag("lost", "a"));
    }
    CHECK(fresh.reg.facts().bags.empty());
    {
        Register::Batch batch(fresh.reg);
        fresh.reg.record_bag(test::bag("kept", "a"));
        BagRecord nameless = test::bag("", "a");
        CHECK_THROWS_AS(fresh.reg.record_bag(nameless), Error);
        batch.commit();
    }
    CHECK(fresh.reg.facts().bags.size() == 1);
}

TEST_CASE("a folder and an archive of one bag on one volume are two copies") {
    Fresh fresh;
    Register& reg = fresh.reg;
    const BagRecord folder = test::bag("gala", "a");
    BagRecord archive = folder;
    archive.path = "gala.tar";
    archive.media_type = "application/x-tar";
    reg.record_bag(folder);
    reg.record_bag(archive);
    Event failed = about(event_type::fixity_check, "2026-09-20", archive);
    failed.outcome = Outcome::failure;
    failed.with_object(object_type::media_type, archive.media_type);
    reg.record_event(about(event_type::fixity_check, "2026-09-20", folder));
    reg.record_event(failed);

    const Facts facts = reg.facts();
    REQUIRE(facts.bags.size() == 1);
    REQUIRE(facts.bags[0].copies.size() == 2);
    CHECK_FALSE(facts.bags[0].copies[0].packed);
    CHECK(facts.bags[0].copies[0].state == CopyState::whole);
    CHECK(facts.bags[0].copies[1].packed);
    CHECK(facts.bags[0].copies[1].path == "gala.tar");
    CHECK(facts.bags[0].copies[1].state == CopyState::damaged);

    reg.finish_scan("a", "", std::vector<SeenCopy>{{{"gala", archive.seal}, true}});
    CHECK(reg.facts().bags[0].copies[0].state == CopyState::missing);
    CHECK(reg.facts().bags[0].copies[1].state == CopyState::damaged);
}
