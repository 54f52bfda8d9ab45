#include "glassine/shelf/event.h"

#include <set>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::shelf;

namespace {

Timestamp at(std::string_view text) {
    return *parse_rfc3339(text);
}

Event full_event() {
    Event event;
    event.id = "5c0f0e0e-5a67-4a53-9d5c-0b6f3f0f6f11";
    event.type = event_type::fixity_check;
    event.time = at("2025-09-06T12:03:22Z");
    event.detail = "sha512, all files";
    event.outcome = Outcome::failure;
    event.outcome_detail = {"data/print/0042.jpg: digest differs"};
    event.with_agent("software", "glassine 1.0", "executing program");
    event.with_object(object_type::bag, "2025-09-06_example", "source");
    return event;
}

}  // namespace

TEST_CASE("an event is one JSON line with a key for each PREMIS unit") {
    // PREMIS Data Dictionary 3.0 (2015), section 2: identifier (type, value), type, date and time,
    // detail, outcome, outcome detail, linked agents and objects with role.
    CHECK(to_json_line(full_event()) ==
          R"({"id":{"type":"UUID","value":"5c0f0e0e-5a67-4a53-9d5c-0b6f3f0f6f11"},)"
          R"("type":"fixity check","time":"2025-09-06T12:03:22Z","detail":"sha512, all files",)"
          R"("outcome":"failure","outcome_detail":["data/print/0042.jpg: digest differs"],)"
          R"("agents":[{"type":"software","value":"glassine 1.0","role":"executing program"}],)"
          R"("objects":[{"type":"bag name","value":"2025-09-06_example","role":"source"}]})");
}

TEST_CASE("an event with a time zone is read as the moment it names") {
    const auto event =
        parse_event(R"({"id":{"type":"UUID","value":"5C0F0E0E-5A67-4A53-9D5C-0B6F3F0F6F11"},)"
                    R"("type":"fixity check","time":"2025-09-06T14:03:22+02:00"})");
    REQUIRE(event);
    CHECK(event->time == at("2025-09-06T12:03:22Z"));
    // RFC 4122 §3: output is lower case, input is not case sensitive.
    CHECK(event->id == "5c0f0e0e-5a67-4a53-9d5c-0b6f3f0f6f11");
}

TEST_CASE("events come back from their line as they were") {
    Event event = full_event();
    event.time.nanoseconds += 123'456'000;
    event.with_figure(figure::bytes, "1234").with_figure(figure::seconds, "5.5");
    event.detail = "quotes \" and ' and \\, line\nbreak, \xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D";
    CHECK(parse_event(to_json_line(event)) == event);
    CHECK(to_json_line(event).find('\n') == std::string::npos);

    const Event bare = new_event("a local type", at("2024-02-29T00:00:00Z"), Outcome::none);
    CHECK(parse_event(to_json_line(bare)) == bare);
}

TEST_CASE("events within one second keep their order") {
    const Timestamp now{1'700'000'000'123'456'789};
    const Event first = new_event(event_type::recovery, now);
    const Event second = new_event(event_type::fixity_check, {now.nanoseconds + 2'000});
    CHECK(parse_event(to_json_line(first))->time < parse_event(to_json_line(second))->time);
    CHECK(event_time(first.time) == "2023-11-14T22:13:20.123456Z");
}

TEST_CASE("bytes that are not UTF-8 do not break a line") {
    Event event = full_event();
    event.detail = "IMG\xff\xfe.jpg";
    const auto read = parse_event(to_json_line(event));
    REQUIRE(read);
    CHECK(read->detail == "IMG\xEF\xBF\xBD\xEF\xBF\xBD.jpg");
}

TEST_CASE("lines that are no events say why") {
    const std::string id = R"("id":{"type":"UUID","value":"5c0f0e0e-5a67-4a53-9d5c-0b6f3f0f6f11"})";
    const auto reason = [](const std::string& line) {
        std::string why;
        REQUIRE_FALSE(parse_event(line, &why));
        return why;
    };
    CHECK(reason("") == "not JSON");
    CHECK(reason("[]") == "not a JSON object");
    CHECK(reason("{}") == "no id");
    CHECK(reason(R"({"id":{"value":"7"}})") == "the id is not a UUID");
    CHECK(reason("{" + id + "}") == "no type");
    CHECK(reason("{" + id + R"(,"type":"x","time":"yesterday"})") == "the time is not RFC 3339");
    // 64 bits of nanoseconds do not reach the year 9999.
    CHECK(reason("{" + id + R"(,"type":"x","time":"9999-12-31T23:59:59Z"})") ==
          "the time is not RFC 3339");
    const std::string head = "{" + id + R"(,"type":"x","time":"2025-01-01T00:00:00Z",)";
    CHECK(reason(head + R"("outcome":"so so"})") == "the outcome is not known");
    CHECK(reason(head + R"("outcome_detail":"text"})") == "outcome_detail is not a list of texts");
    CHECK(reason(head + R"("agents":{}})") == "agents is not a list of links");
    CHECK(reason(head + R"("objects":[1]})") == "objects is not a list of links");
    CHECK(parse_event(head + R"("later_key":{"a":[1,2]}})"));
}

TEST_CASE("a log cut at any byte gives back every whole line and nothing else") {
    const std::vector<Event> events{full_event(), new_event("recovery", at("2025-01-01T00:00:00Z")),
                                    new_event("replication", at("2025-01-02T00:00:00Z"))};
    const std::string log = to_json_lines(events);
    for (std::size_t cut = 0; cut <= log.size(); ++cut) {
        const std::string_view part = std::string_view(log).substr(0, cut);
        std::size_t whole = 0;
        for (const char c : part)
            whole += c == '\n';
        const EventLines lines = parse_event_lines(part);
        // A last line that only lacks its line feed is an event all the same.
        const std::size_t more = lines.events.size() - whole;
        INFO(cut);
        REQUIRE(more <= 1);
        CHECK(lines.problems.empty());
        for (std::size_t i = 0; i < lines.events.size(); ++i)
            CHECK(lines.events[i] == events[i]);
        const bool ends_whole = cut == 0 || part.back() == '\n';
        CHECK(lines.torn == (!ends_whole && more == 0));
    }
}

TEST_CASE("a torn line in the middle is named by its number") {
    const std::string good = to_json_line(full_event()) + "\n";
    const EventLines lines = parse_event_lines(good + "\r\n{\"id\":{\"ty\n" + good);
    CHECK(lines.events.size() == 2);
    CHECK(lines.problems == std::vector<std::string>{"line 3: not JSON"});
    CHECK_FALSE(lines.torn);
}

TEST_CASE("the vocabulary has its 50 terms") {
    // PREMIS Event Type vocabulary at id.loc.gov, as published on 2018-09-24: 50 terms.
    std::set<std::string_view> labels;
    std::set<std::string_view> codes;
    for (const EventTerm& term : event_terms()) {
        labels.insert(term.label);
        codes.insert(term.code);
        CHECK(term.code.size() == 3);
    }
    CHECK(event_terms().size() == 50);
    CHECK(labels.size() == 50);
    CHECK(codes.size() == 50);
    for (const std::string_view used : {event_type::accession,
                                        event_type::creation,
                                        event_type::deaccession,
                                        event_type::deletion,
                                        event_type::dissemination,
                                        event_type::fixity_check,
                                        event_type::format_identification,
                                        event_type::information_package_creation,
                                        event_type::ingestion,
                                        event_type::message_digest_calculation,
                                        event_type::metadata_extraction,
                                        event_type::metadata_modification,
                                        event_type::packing,
                                        event_type::policy_assignment,
                                        event_type::recovery,
                                        event_type::redaction,
                                        event_type::refreshment,
                                        event_type::replication,
                                        event_type::unpacking,
                                        event_type::validation}) {
        CHECK(labels.contains(used));
    }
}

TEST_CASE("identifiers are version 4 UUIDs and differ") {
    std::set<std::string> seen;
    for (int i = 0; i < 200; ++i) {
        const std::string uuid = random_uuid();
        // RFC 4122 §4.4: version 4 and variant 10.
        CHECK(uuid.size() == 36);
        CHECK(uuid[14] == '4');
        CHECK(std::string_view("89ab").find(uuid[19]) != std::string_view::npos);
        seen.insert(uuid);
    }
    CHECK(seen.size() == 200);
}
