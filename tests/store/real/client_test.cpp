// The client against a real store (tests/store/object_store.py), which knows nothing of Glassine:
// what it signs and encodes is right when the store takes it, and gives it back under the same
// name.
#include "glassine/store/client.h"

#include "store/requests.h"

#include <algorithm>
#include <fstream>
#include <iostream>
#include <thread>

#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>
#include <unistd.h>

namespace glassine::store {
namespace {

/// The running store, and a bucket of its own for a test; the bucket goes with the store.
class RealStore {
  public:
    explicit RealStore(const std::string& name) : bucket(fmt::format("c-{}-{}", name, getpid())) {
        std::ifstream file(BUILD_TREE "/tests/object-store/store.json");
        if (!file) {
            std::cout << "SKIPPED: no object store runs (see tests/store/object_store.py)\n";
            return;
        }
        facts_ = nlohmann::json::parse(file);
        Requests(settings(), keys("studio"), {}).run({"PUT", {bucket, ""}, {}, {}, {}, "make"});
        client = http_client(settings(), keys("studio"), {});
    }

    Settings settings() const {
        Settings settings;
        settings.endpoint = facts_["endpoint"];
        settings.region = facts_["region"];
        settings.attempts = 2;
        return settings;
    }
    Credentials keys(const char* user) const {
        const auto& keys = facts_["users"][user];
        return {keys["access_key"], keys["secret_key"], ""};
    }

    const std::string bucket;
    std::unique_ptr<Client> client;  ///< none: no store runs

  private:
    nlohmann::json facts_;
};

std::span<const std::byte> bytes_of(std::string_view text) {
    return std::as_bytes(std::span(text));
}

std::string content(Client& client, const Address& address, std::uint64_t offset,
                    std::uint64_t length) {
    const auto download = client.get(address, offset, length, "");
    std::string whole;
    std::string piece(50'000, '\0');
    while (const std::size_t n = download->read(std::as_writable_bytes(std::span(piece))))
        whole.append(piece, 0, n);
    return whole;
}

/// Names that are easily encoded wrongly. Up to 1,024 bytes of UTF-8 (Amazon S3 User Guide, "Naming
/// Amazon S3 objects").
std::vector<std::string> odd_names() {
    std::vector<std::string> names{
        "plain.jpg",  "a b",       "a+b",       "a%b",        "a%20b",       "a%2Fb",
        "~tilde",     "q?x=1&y",   "hash#mark", "\"quoted\"", "it's",        "<xml>&amp;",
        "semi;colon", "a=b",       "a:b@c,d",   "!$*()",      "back\\slash", "[x]{y}|z^`",
        ".hidden",    "..dots",    "dots..",    "a./b",       "a/.b",        "trailing.",
        "blank end ", " blank",    "øre/å.tif", "e\xcc\x81",  "日本/写真",   "\xf0\x9f\x93\xb7",
        "tab\there",  "x/y/z/deep"};
    names.push_back(std::string(1000, 'n'));
    std::string wide;
    while (wide.size() + 2 <= 1000)
        wide += "\xc3\xb8";
    names.push_back(wide);
    std::ranges::sort(names);
    return names;
}

Cause refusal(const std::function<void()>& work) {
    try {
        work();
    } catch (const Error& error) {
        INFO(error.what());
        CHECK_FALSE(error.next().empty());
        return error.cause();
    }
    return Cause::other;
}

}  // namespace

TEST_CASE("odd names come back as they went") {
    const RealStore store("names");
    if (!store.client) return;
    Client& client = *store.client;
    PutOptions options;
    options.file_time = Timestamp{1'718'374'800'123'456'789};
    const std::vector<std::string> names = odd_names();
    for (const std::string& name : names) {
        INFO(name);
        const Address address{store.bucket, "odd/" + name};
        client.put(address, bytes_of(name), options);
        const auto info = client.find(address);
        REQUIRE(info);
        CHECK(info->size == name.size());
        CHECK(info->file_time == options.file_time);
        CHECK(content(client, address, 0, name.size()) == name);
        client.copy(address, {store.bucket, "copies/" + name});
    }
    for (const std::string folder : {"odd/", "copies/"}) {
        std::vector<std::string> listed;
        std::string next;
        do {
            const Client::Page page = client.list(store.bucket, folder, "", next, 7);
            for (const ObjectInfo& object : page.objects)
                listed.push_back(object.key.substr(folder.size()));
            next = page.next;
        } while (!next.empty());
        CHECK(listed == names);
    }
    for (const std::string& name : names) {
        INFO(name);
        client.remove({store.bucket, "odd/" + name});
        CHECK_FALSE(client.find({store.bucket, "odd/" + name}));
        CHECK(client.find({store.bucket, "copies/" + name}));
    }
    client.remove({store.bucket, "odd/never"});
}

TEST_CASE("folders are listed by their names") {
    const RealStore store("folders");
    if (!store.client) return;
    Client& client = *store.client;
    const std::vector<std::string> folders{"a b/", "a%20b/", "a+b/", "å/"};
    for (const std::string& folder : folders)
        client.put({store.bucket, "jobs/" + folder + "x"}, {}, {});
    const Client::Page page = client.list(store.bucket, "jobs/", "/", "");
    std::vector<std::string> found;
    for (const std::string& prefix : page.prefixes)
        found.push_back(prefix.substr(5));
    std::ranges::sort(found);
    CHECK(found == folders);
    CHECK(page.objects.empty());
    for (const std::string& folder : folders)
        CHECK(client.list(store.bucket, "jobs/" + folder, "/", "").objects.size() == 1);
}

TEST_CASE("an object of parts, with an odd name") {
    const RealStore store("parts");
    if (!store.client) return;
    Client& client = *store.client;
    const Address address{store.bucket, "jobs/a b+c%20d å.mov"};
    const std::string first(smallest_part, 'a');
    const std::string second = "the rest";
    const std::string upload = client.begin_upload(address, {});
    std::vector<Part> parts;
    parts.push_back({1, first.size(), client.put_part(address, upload, 1, bytes_of(first))});
    parts.push_back({2, second.size(), client.put_part(address, upload, 2, bytes_of(second))});
    const std::string other = client.begin_upload({store.bucket, "jobs/other+"}, {});

    const std::vector<Upload> begun = client.uploads(store.bucket, "jobs/a b+");
    REQUIRE(begun.size() == 1);
    CHECK(begun[0].key == address.key);
    CHECK(begun[0].id == upload);
    CHECK(client.uploads(store.bucket, "jobs/").size() == 2);
    const std::vector<Part> held = client.parts(address, upload);
    REQUIRE(held.size() == 2);
    for (std::size_t i = 0; i < held.size(); ++i) {
        CHECK(held[i].number == parts[i].number);
        CHECK(held[i].size == parts[i].size);
        CHECK(held[i].etag == parts[i].etag);
    }

    client.complete_upload(address, upload, parts);
    client.complete_upload(address, upload, parts);  // its answer could have been lost
    CHECK(client.find(address)->size == first.size() + second.size());
    CHECK(content(client, address, smallest_part - 2, 100) == "aathe rest");
    client.abandon_upload({store.bucket, "jobs/other+"}, other);
    client.abandon_upload({store.bucket, "jobs/other+"}, other);
    CHECK(client.uploads(store.bucket, "").empty());
    CHECK(client.parts(address, upload).empty());
}

TEST_CASE("uploads under way are listed over several pages") {
    const RealStore store("uploads");
    if (!store.client) return;
    std::vector<std::string> begun;
    for (int i = 0; i < 1005; ++i)
        begun.push_back(fmt::format("many/a+b %20 {:04}", i));
    {
        constexpr std::size_t at_once = 8;
        std::vector<std::jthread> threads;
        for (std::size_t first = 0; first < at_once; ++first)
            threads.emplace_back([&, first] {
                for (std::size_t i = first; i < begun.size(); i += at_once)
                    store.client->begin_upload({store.bucket, begun[i]}, {});
            });
    }
    std::vector<std::string> listed;
    for (const Upload& upload : store.client->uploads(store.bucket, "many/"))
        listed.push_back(upload.key);
    std::ranges::sort(listed);
    CHECK(listed == begun);
}

TEST_CASE("ranges, and what is behind the end") {
    const RealStore store("ranges");
    if (!store.client) return;
    Client& client = *store.client;
    const Address address{store.bucket, "reel"};
    std::string reel;
    for (int i = 0; i < 400'000; ++i)
        reel += static_cast<char>(i % 251);
    client.put(address, bytes_of(reel), {});
    CHECK(content(client, address, 0, reel.size()) == reel);
    CHECK(content(client, address, 399'990, 100) == reel.substr(399'990));
    CHECK(content(client, address, 399'999, ~std::uint64_t{0}) == reel.substr(399'999));
    CHECK(content(client, address, 400'000, 1).empty());
    CHECK(content(client, address, 7, 0).empty());
    client.put({store.bucket, "empty"}, {}, {});
    CHECK(content(client, {store.bucket, "empty"}, 0, 100).empty());
    CHECK(refusal([&] { client.get({store.bucket, "none"}, 0, 1, ""); }) == Cause::not_found);
    CHECK(refusal([&] { client.get(address, 0, 1, "0123"); }) == Cause::changed);
    // A download that is left in the middle, and requests beside one that is not.
    const auto open = client.get(address, 0, reel.size(), client.find(address)->etag);
    char one = 1;
    CHECK(open->read(std::as_writable_bytes(std::span(&one, 1))) == 1);
    CHECK(content(client, address, 5, 5) == reel.substr(5, 5));
    CHECK(one == reel[0]);
}

TEST_CASE("a real store's refusals are understood") {
    const RealStore store("refusals");
    if (!store.client) return;
    PutOptions only_new;
    only_new.only_new = true;
    const Address address{store.bucket, "once"};
    store.client->put(address, bytes_of("first"), only_new);
    CHECK(refusal([&] { store.client->put(address, bytes_of("second"), only_new); }) ==
          Cause::exists);
    CHECK(content(*store.client, address, 0, 10) == "first");

    store.client->check_bucket(store.bucket);
    CHECK(refusal([&] { store.client->check_bucket("no-such-bucket-of-tests"); }) ==
          Cause::not_found);
    const auto told = [&](const Credentials& keys) {
        const auto client = http_client(store.settings(), keys, {});
        try {
            client->find(address);
        } catch (const Error& error) {
            CHECK(error.cause() == Cause::permission);
            return std::string(error.what());
        }
        return std::string("nothing was refused");
    };
    Credentials wrong = store.keys("studio");
    wrong.secret_key += "x";
    CHECK_THAT(told(wrong), Catch::Contains("secret key"));
    wrong.access_key = "NOBODYSACCESSKEY0001";
    CHECK_THAT(told(wrong), Catch::Contains("does not know the access key"));
    CHECK_THAT(told(store.keys("stranger")), Catch::Contains("do not allow it"));
    Settings cold = store.settings();
    cold.storage_class = "NO_SUCH_CLASS";
    const auto client = http_client(cold, store.keys("studio"), {});
    CHECK_THROWS_WITH(client->put(address, {}, {}), Catch::Contains("storage_class"));
}

}  // namespace glassine::store
