#include "glassine/store/settings.h"

#include "glassine/base/error.h"
#include "glassine/base/text.h"
#include "glassine/store/client.h"
#include "store/loopback.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdlib>
#include <optional>

#include <fmt/format.h>

namespace glassine::store {
namespace {

using Table = std::map<std::string, std::string>;

Error wrong(const std::string& key, const std::string& why, const std::string& next) {
    return {Cause::malformed, "read the studio file's [object_store]", "",
            fmt::format("{} {}", key, why), next};
}

std::optional<std::uint64_t> whole(std::string_view text) {
    std::uint64_t number = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
    return number;
}

std::uint64_t number_in(const std::string& key, const std::string& value, std::uint64_t least,
                        std::uint64_t most) {
    const auto number = whole(value);
    if (!number || *number < least || *number > most)
        throw wrong(key, fmt::format("must be a whole number from {} to {}", least, most), "");
    return *number;
}

bool truth(const std::string& key, const std::string& value) {
    if (value == "true") return true;
    if (value == "false") return false;
    throw wrong(key, "must be true or false", "");
}

std::uint64_t size_in(const std::string& key, const std::string& value, std::uint64_t least,
                      std::uint64_t most) {
    const auto bytes = text::parse_bytes(value);
    if (!bytes || *bytes < least || *bytes > most)
        throw wrong(key,
                    fmt::format("must be a size from {} to {}", text::human_bytes(least),
                                text::human_bytes(most)),
                    "write it like \"16 MiB\" or \"2 MB\"");
    return *bytes;
}

bool may_be_in_host(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' ||
           c == '-' || c == ':' || c == '[' || c == ']';
}

std::string endpoint_in(const std::string& value) {
    std::string endpoint = value;
    while (endpoint.ends_with('/'))
        endpoint.pop_back();
    const std::size_t slashes = endpoint.find("://");
    const std::string scheme = endpoint.substr(0, slashes);
    const std::string host =
        slashes == std::string::npos ? std::string() : endpoint.substr(slashes + 3);
    if ((scheme != "https" && scheme != "http") || host.empty() ||
        !std::ranges::all_of(host, may_be_in_host))
        throw wrong("endpoint",
                    "must be an address like https://store.example or "
                    "http://127.0.0.1:7480, without a path or keys in it",
                    "");
    return endpoint;
}

using Reader = void (*)(Settings&, const std::string& key, const std::string& value);
struct Key {
    const char* name;
    Reader read;
};

constexpr std::array keys{
    Key{"endpoint",
        [](Settings& s, const std::string&, const std::string& v) { s.endpoint = endpoint_in(v); }},
    Key{"region", [](Settings& s, const std::string&, const std::string& v) { s.region = v; }},
    Key{"path_style", [](Settings& s, const std::string& k,
                         const std::string& v) { s.path_style = truth(k, v); }},
    Key{"storage_class",
        [](Settings& s, const std::string&, const std::string& v) { s.storage_class = v; }},
    Key{"plain_http", [](Settings& s, const std::string& k,
                         const std::string& v) { s.plain_http = truth(k, v); }},
    Key{"ca_file", [](Settings& s, const std::string&, const std::string& v) { s.ca_file = v; }},
    Key{"profile", [](Settings& s, const std::string&, const std::string& v) { s.profile = v; }},
    Key{"proof",
        [](Settings& s, const std::string& k, const std::string& v) {
            if (v == word(Proof::store_checksum))
                s.proof = Proof::store_checksum;
            else if (v != word(Proof::read_back))
                throw wrong(k, "must be \"read back\" or \"store checksum\"", "");
        }},
    Key{"connections",
        [](Settings& s, const std::string& k, const std::string& v) {
            s.connections = static_cast<unsigned>(number_in(k, v, 1, 64));
        }},
    Key{"part_size",
        [](Settings& s, const std::string& k, const std::string& v) {
            s.part_size = size_in(k, v, smallest_part, 64u << 20);
        }},
    Key{"rate",
        [](Settings& s, const std::string& k, const std::string& v) {
            const std::string size = v.ends_with("/s") ? v.substr(0, v.size() - 2) : v;
            s.rate = size_in(k, size, 1000, std::uint64_t{1} << 40);
        }},
    Key{"attempts",
        [](Settings& s, const std::string& k, const std::string& v) {
            s.attempts = static_cast<unsigned>(number_in(k, v, 1, 20));
        }},
    Key{"patience",
        [](Settings& s, const std::string& k, const std::string& v) {
            s.patience = std::chrono::seconds(number_in(k, v, 1, 3600));
        }},
};

Error unknown(const std::string& key) {
    const std::string folded = text::fold_for_search(key);
    if (folded.find("secret") != std::string::npos || folded.find("access") != std::string::npos ||
        folded.find("password") != std::string::npos || folded.find("token") != std::string::npos)
        return wrong(key, "does not belong there",
                     "keys come from the environment (AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY) or "
                     "the credentials file; take them out of the studio file");
    std::vector<std::string> known;
    known.reserve(keys.size());
    for (const Key& k : keys)
        known.emplace_back(k.name);
    return wrong(key, "is no key there",
                 fmt::format("did you mean {}?", text::nearest(key, known)));
}

/// What would end up in a header as it is.
void check_plain(const std::string& key, const std::string& value) {
    const bool plain = std::ranges::all_of(value, [](char c) { return c > ' ' && c < 0x7f; });
    if (!plain) throw wrong(key, "may hold only letters, digits and signs, without blanks", "");
}

}  // namespace

std::string_view word(Proof proof) {
    return proof == Proof::read_back ? "read back" : "store checksum";
}

Settings parse_settings(const Table& table) {
    Settings settings;
    for (const auto& [key, value] : table) {
        const auto known = std::ranges::find(keys, std::string_view(key),
                                             [](const Key& k) { return std::string_view(k.name); });
        if (known == keys.end()) throw unknown(key);
        known->read(settings, key, value);
    }
    check_plain("region", settings.region);
    check_plain("storage_class", settings.storage_class);
    if (settings.endpoint.starts_with("http://") && !settings.plain_http &&
        !on_this_machine(std::string_view(settings.endpoint).substr(7)))
        throw wrong("endpoint",
                    "is plain HTTP to another machine: everybody on the way could read "
                    "the pictures and change them",
                    "use https://, or set plain_http = true if the way is your own");
    return settings;
}

}  // namespace glassine::store
