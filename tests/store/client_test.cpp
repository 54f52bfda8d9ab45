#include "glassine/store/client.h"

#include "store/scripted_server.h"

#include <catch2/catch.hpp>

namespace glassine::store {
namespace {

using test::ScriptedServer;

constexpr std::string_view secret = "very/secret+key";

std::unique_ptr<Client> client_for(const ScriptedServer& server, unsigned attempts = 1) {
    Settings settings;
    settings.endpoint = server.endpoint();
    settings.attempts = attempts;
    return http_client(settings, {"AK", std::string(secret), ""}, {});
}

std::string refusal(const std::string& status, const std::string& code,
                    const std::string& more = "") {
    return ScriptedServer::answer(
        status, "", "<?xml version=\"1.0\"?><Error><Code>" + code + "</Code>" + more + "</Error>");
}

/// What a person is told when the store answers so.
Error told(const std::string& answer) {
    ScriptedServer server({answer});
    const auto client = client_for(server);
    try {
        client->put({"attic-two", "jobs/one.jpg"}, {}, {});
    } catch (const Error& error) {
        return error;
    }
    FAIL("the store's refusal was not told");
    throw;
}

}  // namespace

// Codes from the Amazon S3 API Reference, "Error responses".
TEST_CASE("each refusal of a store is told with its reason and where") {
    struct Case {
        std::string answer;
        Cause cause;
        std::string word;
    };
    const std::vector<Case> cases{
        {refusal("403 Forbidden", "InvalidAccessKeyId"), Cause::permission, "access key"},
        {refusal("403 Forbidden", "SignatureDoesNotMatch"), Cause::permission, "secret key"},
        {refusal("403 Forbidden", "AccessDenied"), Cause::permission, "do not allow"},
        {refusal("404 Not Found", "NoSuchBucket"), Cause::not_found, "no such bucket"},
        {refusal("403 Forbidden", "QuotaExceeded"), Cause::no_space, "used up"},
        {refusal("403 Forbidden", "RequestTimeTooSkewed",
                 "<RequestTime>20261126T100000Z</RequestTime>"
                 "<ServerTime>2026-11-26T12:00:00Z</ServerTime>"),
         Cause::permission, "2026-11-26T12:00:00Z"},
        {refusal("412 Precondition Failed", "PreconditionFailed"), Cause::exists, "another object"},
        {refusal("503 Slow Down", "SlowDown"), Cause::busy, "patience"},
        {refusal("400 Bad Request", "BadDigest"), Cause::unreadable, "altered"},
        {ScriptedServer::answer("507 Insufficient Storage", "", ""), Cause::no_space, "used up"},
        {ScriptedServer::answer("418 Teapot", "", "<html>"), Cause::other, "418"},
        {"", Cause::unreadable, "broke"},
    };
    for (const Case& c : cases) {
        INFO(c.word);
        const Error error = told(c.answer);
        CHECK(error.cause() == c.cause);
        CHECK(error.why().find(c.word) != std::string::npos);
        CHECK(error.why().find("http://127.0.0.1:") != std::string::npos);
        CHECK(error.path() == "s3://attic-two/jobs/one.jpg");
        CHECK(std::string(error.what()).find(secret) == std::string::npos);
    }
}

TEST_CASE("a refusal that comes without a word is asked about") {
    ScriptedServer server({ScriptedServer::answer("403 Forbidden", "", ""),
                           refusal("403 Forbidden", "InvalidAccessKeyId")});
    try {
        client_for(server)->find({"attic-two", "jobs/one.jpg"});
        FAIL("nothing was told");
    } catch (const Error& error) {
        CHECK(error.why().find("access key") != std::string::npos);
    }
}

TEST_CASE("what may pass is tried again, with the same body") {
    ScriptedServer server({refusal("503 Slow Down", "SlowDown"), "",
                           ScriptedServer::answer("200 OK", "ETag: \"abc\"\r\n", "")});
    const std::string body = "a picture";
    CHECK(client_for(server, 4)->put({"attic-two", "one.jpg"}, std::as_bytes(std::span(body)),
                                     {}) == "abc");
    const auto requests = server.requests();
    REQUIRE(requests.size() == 3);
    for (const std::string& request : requests)
        CHECK(request.ends_with("\r\n\r\na picture"));
    // RFC 1864; the value by `printf 'a picture' | openssl md5 -binary | base64`.
    CHECK(requests.back().find("Content-MD5: ") != std::string::npos);
}

TEST_CASE("a body that breaks off is taken up where it stopped, of the same object") {
    const std::string begun =
        "HTTP/1.1 206 Partial Content\r\nETag: \"e1\"\r\nContent-Range: bytes 0-9/10\r\n"
        "Content-Length: 10\r\n\r\n01234";
    const std::string rest = ScriptedServer::answer(
        "206 Partial Content", "ETag: \"e1\"\r\nContent-Range: bytes 5-9/10\r\n", "56789");
    ScriptedServer server({begun, rest});
    const auto client = client_for(server, 3);
    const auto download = client->get({"attic-two", "one.jpg"}, 0, 10, "e1");
    std::string content(20, '\0');
    content.resize(download->read(std::as_writable_bytes(std::span(content))));
    CHECK(content == "0123456789");
    const auto requests = server.requests();
    REQUIRE(requests.size() == 2);
    CHECK(requests[1].find("Range: bytes=5-9") != std::string::npos);
    CHECK(requests[1].find("If-Match: \"e1\"") != std::string::npos);
}

TEST_CASE("an object that was exchanged meanwhile is no longer the same file") {
    ScriptedServer server({refusal("412 Precondition Failed", "PreconditionFailed")});
    try {
        client_for(server)->get({"attic-two", "one.jpg"}, 0, 10, "e1");
        FAIL("nothing was told");
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::changed);
    }
}

TEST_CASE("listings are read page by page, names as they are") {
    const auto page = [](const std::string& content) {
        return ScriptedServer::answer("200 OK", "",
                                      "<?xml version=\"1.0\"?><ListBucketResult "
                                      "xmlns=\"http://s3.amazonaws.com/doc/2006-03-01/\">" +
                                          content + "</ListBucketResult>");
    };
    ScriptedServer server(
        {page("<IsTruncated>true</IsTruncated><NextContinuationToken>more/=</NextContinuationToken>"
              "<Contents><Key>jobs/a+b%2Bc%20d%C3%A5</Key><Size>7</Size><ETag>&quot;e&quot;</ETag>"
              "<LastModified>2026-11-26T10:41:49.654Z</LastModified></Contents>"),
         page("<IsTruncated>false</IsTruncated>"
              "<CommonPrefixes><Prefix>jobs/x/</Prefix></CommonPrefixes>")});
    const auto client = client_for(server);
    const Client::Page first = client->list("attic-two", "jobs/", "/", "");
    REQUIRE(first.objects.size() == 1);
    CHECK(first.objects[0].key == "jobs/a b+c då");
    CHECK(first.objects[0].size == 7);
    CHECK(first.objects[0].etag == "e");
    CHECK(rfc3339(first.objects[0].modified) == "2026-11-26T10:41:49Z");
    const Client::Page second = client->list("attic-two", "jobs/", "/", first.next);
    CHECK(second.prefixes == std::vector<std::string>{"jobs/x/"});
    CHECK(second.next.empty());
    CHECK(server.requests()[1].find("continuation-token=more%2F%3D") != std::string::npos);
}

TEST_CASE("an answer that says 200 and tells of an error is an error") {
    ScriptedServer server({refusal("200 OK", "AccessDenied")});
    const std::vector<Part> parts{{1, 5, "e"}};
    CHECK_THROWS_AS(client_for(server)->complete_upload({"attic-two", "one.jpg"}, "id", parts),
                    Error);
}

// Amazon S3 User Guide, "Amazon S3 multipart upload limits": 10,000 parts.
TEST_CASE("parts grow so that no object has more than ten thousand") {
    constexpr std::uint64_t wanted = 8u << 20;
    CHECK(part_size_for(0, wanted) == wanted);
    CHECK(part_size_for(80'000'000'000, wanted) == wanted);
    for (const std::uint64_t size : {std::uint64_t{100} << 30, std::uint64_t{5} << 40}) {
        const std::uint64_t part = part_size_for(size, wanted);
        CHECK((size + part - 1) / part <= most_parts);
    }
}

}  // namespace glassine::store
