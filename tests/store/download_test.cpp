#include "canned_server.h"

#include <charconv>

#include <catch2/catch.hpp>
#include <fmt/format.h>

namespace glassine::store {
namespace {

const Address reel{"attic-two", "jobs/reel"};

std::string text_of(std::size_t size) {
    std::string text;
    for (std::size_t i = 0; i < size; ++i)
        text += static_cast<char>('a' + i * 7 % 26);
    return text;
}

/// A store of one object; `spoil` sees each answer before it goes.
class OneObject {
  public:
    using Spoil = std::function<Canned(int number, const Asked&, Canned)>;
    explicit OneObject(
        std::string content, Spoil spoil = [](int, const Asked&, Canned good) { return good; })
        : content_(std::move(content)),
          spoil_(std::move(spoil)),
          server_([this](const Asked& asked) { return spoil_(++number_, asked, good(asked)); }),
          store_(server_.endpoint()) {}

    std::unique_ptr<Download> get(std::uint64_t offset, std::uint64_t length,
                                  const std::string& etag = "") {
        return store_.client->get(reel, offset, length, etag);
    }
    std::string all(std::uint64_t offset, std::uint64_t length, std::size_t step = 1000) {
        const auto download = get(offset, length);
        std::string whole;
        std::string piece(step, '\0');
        while (const std::size_t n = download->read(std::as_writable_bytes(std::span(piece))))
            whole.append(piece, 0, n);
        return whole;
    }
    std::vector<Asked> log() const { return server_.log(); }
    std::size_t waits() const { return store_.waits.size(); }

  private:
    Canned good(const Asked& asked) const {
        const std::vector<std::string> common{"ETag: \"one\"",
                                              "Last-Modified: Sat, 15 Jun 2024 10:20:30 GMT"};
        auto headers = common;
        if (asked.method == "HEAD") {
            headers.push_back(fmt::format("Content-Length: {}", content_.size()));
            return canned(200, headers);
        }
        const std::string range = asked.headers.at("range");
        std::size_t first = 0;
        std::size_t last = content_.size();
        const char* const end = range.data() + range.size();
        const auto [dash, error] = std::from_chars(range.data() + 6, end, first);
        if (dash + 1 < end) std::from_chars(dash + 1, end, last);
        if (first >= content_.size()) return refusal(416, "InvalidRange");
        last = std::min(last, content_.size() - 1);
        headers.push_back(
            fmt::format("Content-Range: bytes {}-{}/{}", first, last, content_.size()));
        return canned(206, headers, content_.substr(first, last - first + 1));
    }

    std::string content_;
    Spoil spoil_;
    std::atomic<int> number_{0};
    CannedServer server_;
    Connected store_;
};

Canned cut_behind(Canned answer, double share) {
    const std::size_t body = answer.bytes.find("\r\n\r\n") + 4;
    answer.bytes.resize(
        body + static_cast<std::size_t>(static_cast<double>(answer.bytes.size() - body) * share));
    answer.cut = true;
    return answer;
}

Cause cause_of(const std::function<void()>& work) {
    try {
        work();
    } catch (const Error& error) {
        CHECK(error.path() == reel.text());
        return error.cause();
    }
    FAIL("nothing was refused");
    return Cause::other;
}

}  // namespace

TEST_CASE("any range comes in any steps") {
    const std::string content = text_of(700'001);
    OneObject object(content);
    for (const std::size_t step : {1000u, 65'536u, 1'000'000u}) {
        CHECK(object.all(0, content.size(), step) == content);
        CHECK(object.all(10, 20, step) == content.substr(10, 20));
        CHECK(object.all(699'000, 5000, step) == content.substr(699'000));
    }
    CHECK(object.all(0, 100, 1) == content.substr(0, 100));
    CHECK(object.all(1, std::numeric_limits<std::uint64_t>::max()) == content.substr(1));
    const auto download = object.get(10, 20);
    CHECK(download->info().size == content.size());
    CHECK(download->info().etag == "one");
    CHECK(rfc3339(download->info().modified) == "2024-06-15T10:20:30Z");
    CHECK(object.waits() == 0);
}

TEST_CASE("what is left unread holds nobody up") {
    OneObject object(text_of(3'000'000));
    char one = 0;
    for (int i = 0; i < 5; ++i) {
        const auto download = object.get(0, 3'000'000);
        CHECK(download->read(std::as_writable_bytes(std::span(&one, 1))) == 1);
    }
    CHECK(object.all(0, 10) == text_of(10));
}

TEST_CASE("behind the end there is nothing, and an empty object is empty") {
    OneObject object(text_of(5));
    CHECK(object.all(5, 10).empty());
    CHECK(object.all(2, 0).empty());
    CHECK(object.get(5, 10)->info().size == 5);
    OneObject empty("");
    CHECK(empty.all(0, 100).empty());
    CHECK(empty.get(0, 100)->info().size == 0);
}

TEST_CASE("a body that breaks off is taken up where it stopped, of the same object") {
    const std::string content = text_of(200'000);
    for (const double share : {0.0, 0.3, 0.999}) {
        OneObject object(content, [&](int number, const Asked&, Canned good) {
            return number <= 2 ? cut_behind(std::move(good), share) : good;
        });
        CHECK(object.all(100, 150'000) == content.substr(100, 150'000));
        const auto log = object.log();
        REQUIRE(log.size() == 3);
        CHECK(log[2].headers.at("range").ends_with("-150099"));
        CHECK(log[2].headers.at("if-match") == "\"one\"");
        CHECK((log[1].headers.at("range") == log[0].headers.at("range")) == (share == 0));
    }
}

TEST_CASE("a body that is shorter than the range is asked for further") {
    const std::string content = text_of(1000);
    OneObject object(content, [&](int number, const Asked&, Canned good) {
        if (number > 1) return good;
        return canned(206, {"ETag: \"one\"", "Content-Range: bytes 0-99/1000"},
                      content.substr(0, 100));
    });
    CHECK(object.all(0, 1000) == content);
    CHECK(object.log().at(1).headers.at("range") == "bytes=100-999");
}

TEST_CASE("a body that always breaks off is given up") {
    OneObject object(text_of(1000),
                     [](int, const Asked&, Canned good) { return cut_behind(std::move(good), 0); });
    CHECK(cause_of([&] { object.all(0, 1000); }) == Cause::unreadable);
}

TEST_CASE("an object that is exchanged meanwhile is not mixed with the one before") {
    const std::string content = text_of(200'000);
    // Longer than what is taken ahead of the reader.
    const auto replaced = [](Canned instead) {
        return [instead](int number, const Asked&, Canned good) {
            return number == 1 ? cut_behind(std::move(good), 0.5) : instead;
        };
    };
    // By a store that honours If-Match, and by one that does not.
    OneObject honoured(content, replaced(refusal(412, "PreconditionFailed")));
    CHECK(cause_of([&] { honoured.all(0, 200'000); }) == Cause::changed);
    OneObject other(content, [](int number, const Asked&, Canned good) {
        if (number == 1) return cut_behind(std::move(good), 0.5);
        good.bytes.replace(good.bytes.find("\"one\""), 5, "\"two\"");
        return good;
    });
    CHECK(cause_of([&] { other.all(0, 200'000); }) == Cause::changed);
    OneObject gone(content, replaced(refusal(404, "NoSuchKey")));
    CHECK(cause_of([&] { gone.all(0, 200'000); }) == Cause::not_found);
    OneObject known(content);
    CHECK(cause_of([&] { known.get(0, 10, "zero"); }) == Cause::changed);
}

TEST_CASE("a store that gives other bytes than were asked for is told of") {
    const std::string content = text_of(1000);
    const auto answers = [&](Canned instead) {
        OneObject object(content, [&](int, const Asked&, const Canned&) { return instead; });
        return cause_of([&] { object.all(100, 10); });
    };
    CHECK(answers(canned(206, {"Content-Range: bytes 0-9/1000"}, content.substr(0, 10))) ==
          Cause::not_supported);
    CHECK(answers(canned(206, {"Content-Range: bytes 100-109/*"}, content.substr(100, 10))) ==
          Cause::not_supported);
    CHECK(answers(canned(206, {}, content.substr(100, 10))) == Cause::not_supported);
    CHECK(answers(canned(200, {}, content)) == Cause::not_supported);

    // The whole in place of its beginning is as good.
    OneObject whole(content,
                    [&](int, const Asked&, const Canned&) { return canned(200, {}, content); });
    CHECK(whole.all(0, 10) == content.substr(0, 10));
}

}  // namespace glassine::store
