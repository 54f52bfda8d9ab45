#include "canned_server.h"

#include <catch2/catch.hpp>

namespace glassine::store {
namespace {

/// U+202E, which makes a terminal write the rest backwards.
constexpr const char* right_to_left = "\xe2\x80\xae";

struct Case {
    Canned answer;
    Cause cause;
    const char* says;
};

/// The error that a put ends with.
Error refused(const CannedServer& server, const Address& address) {
    const Connected store(server.endpoint());
    try {
        store.client->put(address, {}, {});
    } catch (const Error& error) {
        return error;
    }
    return {Cause::other, "", "", "nothing was refused"};
}

}  // namespace

// Codes and statuses: Amazon S3 API Reference, "Error responses"; 507: RFC 4918 §11.5.
TEST_CASE("each refusal says where, why and what to do, and holds no secret") {
    const std::vector<Case> cases{
        {refusal(403, "InvalidAccessKeyId", "<AWSAccessKeyId>ACCESSKEYOFTESTS</AWSAccessKeyId>"),
         Cause::permission, "does not know the access key"},
        {refusal(403, "SignatureDoesNotMatch",
                 "<StringToSign>token-of-tests</StringToSign><Message>m</Message>"),
         Cause::permission, "secret key is not the right one"},
        {refusal(403, "AccessDenied"), Cause::permission, "do not allow it"},
        {refusal(400, "ExpiredToken"), Cause::permission, "run out"},
        {refusal(404, "NoSuchBucket"), Cause::not_found, "no such bucket"},
        {refusal(403, "QuotaExceeded"), Cause::no_space, "used up"},
        {canned(507), Cause::no_space, "used up"},
        {refusal(403, "InvalidObjectState"), Cause::not_supported, "storage class"},
        {refusal(400, "InvalidStorageClass"), Cause::usage, "storage_class"},
        {refusal(400, "KeyTooLongError"), Cause::not_supported, "too long"},
        {refusal(400, "EntityTooLarge"), Cause::not_supported, "so large"},
        {refusal(403, "AccessDenied",
                 "<Message>Access Denied because object protected by object lock.</Message>"),
         Cause::read_only, "locked"},
        {refusal(412, "PreconditionFailed"), Cause::exists, "stands there"},
        {refusal(400, "AuthorizationHeaderMalformed"), Cause::usage, "region"},
        {refusal(301, "PermanentRedirect"), Cause::usage, "endpoint"},
        {refusal(503, "SlowDown"), Cause::busy, "patience"},
        {canned(429), Cause::busy, "patience"},
        {refusal(418, "Odd", std::string("<Message>") + right_to_left + "red</Message>"),
         Cause::other, "Odd: "},
        {canned(418, {}, "<not xml"), Cause::other, "status 418"},
        {{"", true}, Cause::unreadable, "the connection broke"},
        {{"HTTP/1.1 200 OK\r\nContent-Length: 9\r\n\r\nab", true}, Cause::unreadable, "broke"},
        {{"what is this", true}, Cause::unreadable, ""},
    };
    for (const Case& c : cases) {
        const CannedServer server({c.answer});
        const Error error = refused(server, {"attic-two", "jobs/film.mov"});
        const std::string what = error.what();
        INFO(what);
        CHECK(error.cause() == c.cause);
        CHECK(what.find(c.says) != std::string::npos);
        CHECK(what.find("s3://attic-two/jobs/film.mov") != std::string::npos);
        CHECK(what.find(server.endpoint()) != std::string::npos);
        CHECK_FALSE(error.next().empty());
        CHECK(error.path() == "s3://attic-two/jobs/film.mov");
        for (const char* secret : {"secret/of+tests", "ACCESSKEYOFTESTS", "token-of-tests"})
            CHECK(what.find(secret) == std::string::npos);
        CHECK(what.find(right_to_left) == std::string::npos);
    }
}

TEST_CASE("a clock that is wrong is told with both times") {
    // Amazon S3 API Reference has the code; the elements with the times are from memory.
    const CannedServer said({refusal(403, "RequestTimeTooSkewed",
                                     "<RequestTime>20200102T030405Z</RequestTime>"
                                     "<ServerTime>2031-02-03T04:05:06Z</ServerTime>")});
    Error error = refused(said, {"attic-two", "x"});
    CHECK(error.cause() == Cause::permission);
    CHECK_THAT(error.what(), Catch::Contains("clock") && Catch::Contains("2031-02-03T04:05:06Z"));

    // Where the error does not tell the store's time, the answer's Date header does (RFC 9110
    // §6.6.1).
    const CannedServer header({canned(403, {"Date: Mon, 03 Feb 2031 04:05:06 GMT"},
                                      "<Error><Code>RequestTimeTooSkewed</Code></Error>")});
    error = refused(header, {"attic-two", "x"});
    CHECK_THAT(error.what(), Catch::Contains("2031-02-03T04:05:06Z there"));
    CHECK_THAT(error.what(), Catch::Matches(".*20[0-9-]+T[0-9:]+Z here.*"));
}

TEST_CASE("why HEAD was refused is asked for in words") {
    const CannedServer server([](const Asked& asked) {
        return asked.method == "HEAD" ? canned(403, {"Content-Length: 200"})
                                      : refusal(403, "InvalidAccessKeyId");
    });
    const Connected store(server.endpoint());
    CHECK_THROWS_WITH(store.client->find({"attic-two", "x"}),
                      Catch::Contains("does not know the access key"));
}

TEST_CASE("nobody answers") {
    std::string endpoint;
    {
        const CannedServer gone({canned(200)});
        endpoint = gone.endpoint();
    }
    const Connected store(endpoint);
    try {
        store.client->check_bucket("attic-two");
        FAIL("nobody is there");
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::unreadable);
        CHECK_THAT(error.what(), Catch::Contains("nothing answers") && Catch::Contains(endpoint));
        CHECK(store.waits.size() == 2);
    }
}

}  // namespace glassine::store
