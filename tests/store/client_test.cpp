#include "glassine/store/client.h"

#include "canned_server.h"

#include <algorithm>
#include <atomic>
#include <thread>

#include <catch2/catch.hpp>

namespace glassine::store {
namespace {

const Address film{"attic-two", "jobs/a b+ø.mov"};

std::span<const std::byte> bytes_of(std::string_view text) {
    return std::as_bytes(std::span(text));
}

Canned cut() {
    return {"", true};
}

Canned listing(std::string_view inside) {
    return canned(200, {},
                  std::string("<?xml version=\"1.0\"?><ListBucketResult "
                              "xmlns=\"http://s3.amazonaws.com/doc/2006-03-01/\">")
                      .append(inside)
                      .append("</ListBucketResult>"));
}

}  // namespace

TEST_CASE("an object is put with checks for the store") {
    const CannedServer server({canned(200, {"ETag: \"900150983cd24fb0d6963f7d28e17f72\""})});
    const Connected store(server.endpoint());
    PutOptions options;
    options.file_time = Timestamp{1'718'374'800'500'000'000};
    CHECK(store.client->put(film, bytes_of("abc"), options) == "900150983cd24fb0d6963f7d28e17f72");
    const Asked asked = server.log().at(0);
    CHECK(asked.method == "PUT");
    CHECK(asked.target == "/attic-two/jobs/a%20b%2B%C3%B8.mov");
    CHECK(asked.body == "abc");
    // RFC 1321 §A.5 (MD5 of "abc", in base64), FIPS 180-4's example for SHA-256.
    CHECK(asked.headers.at("content-md5") == "kAFQmDzST7DWlj99KOF/cg==");
    CHECK(asked.headers.at("x-amz-content-sha256") ==
          "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    CHECK(asked.headers.at("x-amz-meta-mtime") == "1718374800.500000000");
    CHECK(asked.headers.at("x-amz-security-token") == "token-of-tests");
    const std::string& authorization = asked.headers.at("authorization");
    for (const char* name : {"content-md5", "host", "x-amz-content-sha256", "x-amz-date",
                             "x-amz-meta-mtime", "x-amz-security-token"})
        CHECK(authorization.find(name) != std::string::npos);
}

TEST_CASE("a store that is gone is not asked again and again, until it is back") {
    std::atomic<bool> gone = true;
    const CannedServer server(
        [&](const Asked&) { return gone ? cut() : canned(200, {"Content-Length: 5"}); });
    const Connected store(server.endpoint());
    for (int i = 0; i < 3; ++i)
        CHECK_THROWS_AS(store.client->find(film), Error);
    CHECK(store.waits.size() == 6);
    for (int i = 0; i < 10; ++i)
        CHECK_THROWS_AS(store.client->find(film), Error);
    CHECK(store.waits.size() == 6);
    gone = false;
    CHECK(store.client->find(film));
    gone = true;
    CHECK_THROWS_AS(store.client->find(film), Error);
    CHECK(store.waits.size() == 8);
}

TEST_CASE("a part goes with checks, the number and the upload in the query") {
    const CannedServer server({canned(200, {"ETag: \"x\""})});
    const Connected store(server.endpoint());
    store.client->put_part(film, "2~id/+", 7, bytes_of(std::string(3 << 20, 'x')));
    const Asked asked = server.log().at(0);
    CHECK(asked.target == "/attic-two/jobs/a%20b%2B%C3%B8.mov?partNumber=7&uploadId=2~id%2F%2B");
    CHECK(asked.body.size() == 3u << 20);
    CHECK(asked.headers.contains("content-md5"));
}

TEST_CASE("a large part is sent whole again when the kept connection turns out to be closed") {
    std::atomic<int> asked{0};
    const CannedServer server([&](const Asked&) {
        Canned answer = canned(200, {"ETag: \"x\""});
        answer.cut = ++asked == 1;
        return answer;
    });
    const Connected store(server.endpoint());
    const std::string part(2 << 20, 'y');
    store.client->put_part(film, "id", 1, bytes_of(part));
    store.client->put_part(film, "id", 2, bytes_of(part));
    CHECK(server.log().at(1).body == part);
}

TEST_CASE("what may pass is tried again") {
    const std::vector<Canned> troubles{cut(),
                                       {"HTTP/1.1 200 OK\r\nContent-Length: 10\r\n\r\nabc", true},
                                       refusal(503, "SlowDown"),
                                       refusal(500, "InternalError"),
                                       refusal(400, "RequestTimeout"),
                                       refusal(400, "BadDigest"),
                                       canned(429),
                                       canned(502, {}, "<html>bad gateway</html>"),
                                       canned(504)};
    for (const Canned& trouble : troubles) {
        const CannedServer server({trouble, trouble, canned(200, {"ETag: \"x\""})});
        const Connected store(server.endpoint());
        CHECK(store.client->put(film, bytes_of("abc"), {}) == "x");
        CHECK(server.log().size() == 3);
        CHECK(store.waits.size() == 2);
    }
}

TEST_CASE("a store that asks for time gets it") {
    const CannedServer server({canned(503, {"Retry-After: 7"}), canned(200)});
    const Connected store(server.endpoint());
    store.client->put(film, bytes_of("abc"), {});
    REQUIRE(store.waits.size() == 1);
    CHECK(store.waits[0] == std::chrono::seconds(7));
}

TEST_CASE("waits double up to 20 seconds, of which a random part is waited") {
    Backoff backoff;
    std::chrono::milliseconds longest{0};
    for (unsigned attempt = 1; attempt <= 30; ++attempt)
        for (int i = 0; i < 50; ++i) {
            const auto wait = backoff.before_next(attempt);
            CHECK(wait.count() >= 0);
            CHECK(wait <= std::min(std::chrono::milliseconds(200) * (1 << std::min(attempt, 10u)),
                                   std::chrono::milliseconds(20'000)));
            longest = std::max(longest, wait);
        }
    CHECK(longest > std::chrono::seconds(5));
}

TEST_CASE("an answer of 200 that tells of an error is none") {
    // Amazon S3 API Reference, CompleteMultipartUpload: blanks keep the connection alive, and an
    // error may come after the status.
    const CannedServer server(
        {canned(200, {}, "  \n<?xml version=\"1.0\"?><Error><Code>InternalError</Code></Error>"),
         canned(200, {}, " <CompleteMultipartUploadResult/>")});
    const Connected store(server.endpoint());
    const std::vector<Part> parts{{1, 3, "x"}, {2, 4, "y"}};
    store.client->complete_upload(film, "id", parts);
    REQUIRE(server.log().size() == 2);
    CHECK(server.log()[1].body ==
          "<CompleteMultipartUpload>"
          "<Part><PartNumber>1</PartNumber><ETag>&quot;x&quot;</ETag></Part>"
          "<Part><PartNumber>2</PartNumber><ETag>&quot;y&quot;</ETag></Part>"
          "</CompleteMultipartUpload>");
}

TEST_CASE("an upload whose completion was not heard of counts as done when the object is there") {
    const std::vector<Part> parts{{1, 3, "x"}};
    const CannedServer server(
        {cut(), refusal(404, "NoSuchUpload"), canned(200, {"Content-Length: 3"})});
    const Connected store(server.endpoint());
    store.client->complete_upload(film, "id", parts);

    const CannedServer other({refusal(404, "NoSuchUpload"), canned(200, {"Content-Length: 4"})});
    const Connected wrong(other.endpoint());
    CHECK_THROWS_AS(wrong.client->complete_upload(film, "id", parts), Error);
}

TEST_CASE("an object put only if new, whose answer was lost, is not taken for somebody else's") {
    PutOptions only_new;
    only_new.only_new = true;
    const Canned there =
        canned(200, {"Content-Length: 3", "ETag: \"900150983cd24fb0d6963f7d28e17f72\""});
    const CannedServer server({cut(), refusal(412, "PreconditionFailed"), there});
    const Connected store(server.endpoint());
    CHECK(store.client->put(film, bytes_of("abc"), only_new) == "900150983cd24fb0d6963f7d28e17f72");
    CHECK(server.log()[0].headers.at("if-none-match") == "*");

    const CannedServer other({refusal(412, "PreconditionFailed"), there});
    const Connected refused(other.endpoint());
    try {
        refused.client->put(film, bytes_of("abc"), only_new);
        FAIL("an object was replaced");
    } catch (const Error& error) {
        CHECK(error.cause() == Cause::exists);
    }
}

TEST_CASE("a redirect is not followed") {
    const CannedServer elsewhere({canned(200)});
    const CannedServer server({canned(307, {"Location: " + elsewhere.endpoint() + "/attic-two/x"},
                                      "<Error><Code>TemporaryRedirect</Code></Error>")});
    const Connected store(server.endpoint());
    CHECK_THROWS_AS(store.client->put(film, bytes_of("abc"), {}), Error);
    CHECK(elsewhere.log().empty());
}

TEST_CASE("what is not there is nothing, or gone already") {
    const CannedServer server({canned(404)});
    const Connected store(server.endpoint());
    CHECK_FALSE(store.client->find(film));
    store.client->remove(film);
    const CannedServer gone({refusal(404, "NoSuchUpload")});
    const Connected uploads(gone.endpoint());
    uploads.client->abandon_upload(film, "id");
    CHECK(uploads.client->parts(film, "id").empty());
}

TEST_CASE("HEAD tells size, times and ETag") {
    const CannedServer server(
        {canned(200, {"Content-Length: 1234567890123", "ETag: \"abc-7\"",
                      "Last-Modified: Sat, 15 Jun 2024 10:20:30 GMT", "x-amz-meta-mtime: -1.5"})});
    const Connected store(server.endpoint());
    const auto info = store.client->find(film);
    REQUIRE(info);
    CHECK(info->key == film.key);
    CHECK(info->size == 1'234'567'890'123);
    CHECK(info->etag == "abc-7");
    CHECK(rfc3339(info->modified) == "2024-06-15T10:20:30Z");
}

TEST_CASE("the file's time comes back as it went") {
    for (const std::int64_t moment : {std::int64_t{0}, std::int64_t{1'718'374'800'123'456'789},
                                      std::int64_t{-1}, std::int64_t{-1'500'000'000}}) {
        std::string kept;
        const CannedServer server([&](const Asked& asked) {
            if (asked.method == "PUT") kept = asked.headers.at("x-amz-meta-mtime");
            return canned(200, {"Content-Length: 0", "x-amz-meta-mtime: " + kept});
        });
        const Connected store(server.endpoint());
        PutOptions options;
        options.file_time = Timestamp{moment};
        store.client->put(film, {}, options);
        CHECK(store.client->find(film)->file_time == options.file_time);
    }
}

// Amazon S3 API Reference, ListObjectsV2: keys are encoded when `encoding-type=url` was asked for
// and EncodingType says so; some stores write a blank as `+`.
TEST_CASE("listings come in pages, with keys as they are") {
    const CannedServer server(
        {listing("<EncodingType>url</EncodingType><IsTruncated>true</IsTruncated>"
                 "<NextContinuationToken>1/+=</NextContinuationToken>"
                 "<Contents><Key>jobs/a+b%2B%C3%B8</Key><Size>5</Size><ETag>&quot;e&quot;</ETag>"
                 "<LastModified>2024-06-15T10:20:30.999Z</LastModified></Contents>"
                 "<CommonPrefixes><Prefix>jobs/in%20ner/</Prefix></CommonPrefixes>"),
         listing("<IsTruncated>false</IsTruncated><Contents><Key>100%41+</Key></Contents>")});
    const Connected store(server.endpoint());
    const Client::Page page = store.client->list("attic-two", "jobs/", "/", "", 2);
    REQUIRE(page.objects.size() == 1);
    CHECK(page.objects[0].key == "jobs/a b+ø");
    CHECK(page.objects[0].size == 5);
    CHECK(page.objects[0].etag == "e");
    CHECK(rfc3339(page.objects[0].modified) == "2024-06-15T10:20:30Z");
    CHECK(page.prefixes == std::vector<std::string>{"jobs/in ner/"});
    const Client::Page last = store.client->list("attic-two", "jobs/", "/", page.next, 2);
    CHECK(last.objects.at(0).key == "100%41+");
    CHECK(last.next.empty());
    CHECK(server.log()[1].target ==
          "/attic-two?continuation-token=1%2F%2B%3D&delimiter=%2F&encoding-type=url&list-type=2&"
          "max-keys=2&prefix=jobs%2F");
}

TEST_CASE("what answers with something else is no object store") {
    const CannedServer server({canned(200, {}, "<html><body>Welcome</body></html>")});
    const Connected store(server.endpoint());
    CHECK_THROWS_WITH(store.client->check_bucket("attic-two"), Catch::Contains("no object store"));
}

TEST_CASE("no more requests are under way than the settings allow") {
    std::atomic<int> under_way{0};
    std::atomic<int> most{0};
    const CannedServer server([&](const Asked&) {
        const int now = ++under_way;
        for (int seen = most; now > seen && !most.compare_exchange_weak(seen, now);) {
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(5));
        --under_way;
        return canned(200);
    });
    Settings settings;
    settings.endpoint = server.endpoint();
    settings.connections = 2;
    const auto client = http_client(settings, {"key", "secret", ""}, {});
    {
        std::vector<std::jthread> threads;
        for (int i = 0; i < 6; ++i)
            threads.emplace_back([&] {
                for (int n = 0; n < 5; ++n)
                    client->put(film, bytes_of("abc"), {});
            });
    }
    CHECK(server.log().size() == 30);
    CHECK(most <= 2);
}

TEST_CASE("a stop ends a request, and what comes after") {
    std::stop_source stop;
    const CannedServer server([&](const Asked&) {
        stop.request_stop();
        return Canned{"HTTP/1.1 200 OK\r\nContent-Length: 10\r\n\r\n", false};
    });
    Settings settings;
    settings.endpoint = server.endpoint();
    const auto client = http_client(settings, {"key", "secret", ""}, stop.get_token());
    for (int i = 0; i < 2; ++i) {
        try {
            client->put(film, bytes_of("abc"), {});
            FAIL("it went on");
        } catch (const Error& error) {
            CHECK(error.cause() == Cause::interrupted);
        }
    }
    CHECK(server.log().size() == 1);
}

// Amazon S3 User Guide, "Amazon S3 multipart upload limits": at most 10,000 parts.
TEST_CASE("parts grow so that 10,000 hold the object") {
    constexpr std::uint64_t mebibyte = 1u << 20;
    CHECK(part_size_for(0, 16 * mebibyte) == 16 * mebibyte);
    CHECK(part_size_for(160'000 * mebibyte, 16 * mebibyte) == 16 * mebibyte);
    CHECK(part_size_for(160'000 * mebibyte + 1, 16 * mebibyte) == 17 * mebibyte);
    CHECK(part_size_for(largest_object, smallest_part) * most_parts >= largest_object);
    CHECK(part_size_for(largest_object, smallest_part) % mebibyte == 0);
}

}  // namespace glassine::store
