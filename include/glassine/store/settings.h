#pragma once

#include "glassine/io/file_system.h"

#include <chrono>
#include <cstdint>
#include <functional>
#include <map>
#include <string>
#include <string_view>

namespace glassine::store {

/// How a copy in the store is proven after it was sent.
enum class Proof {
    read_back,      ///< every byte is fetched again and compared
    store_checksum  ///< the store's own checksum of each object is compared with ours
};
std::string_view word(Proof proof);  ///< "read back", "store checksum"

/// What the studio file's table `[object_store]` says. docs/object-store.md explains every key.
struct Settings {
    std::string endpoint;  ///< "https://store.example", "http://127.0.0.1:7480"; no path
    std::string region = "us-east-1";
    /// Bucket in the path (true) or in front of the host's name.
    bool path_style = true;
    std::string storage_class;  ///< sent with every object; empty: the bucket's own
    /// Plain HTTP to another machine than this one; only when the studio file says so by name.
    bool plain_http = false;
    std::string ca_file;  ///< certificates to trust instead of the system's; empty: the system's
    std::string profile = "default";  ///< the section of the credentials file
    Proof proof = Proof::read_back;
    unsigned connections = 8;             ///< requests under way at once; 1 to 64
    std::uint64_t part_size = 16u << 20;  ///< bytes; 5 MiB to 64 MiB; grows for large files
    std::uint64_t rate = 0;               ///< bytes a second, sent; 0: no limit
    unsigned attempts = 6;                ///< for each request; 1 to 20
    std::chrono::seconds patience{60};    ///< without a byte moving, before a request is given up

    bool operator==(const Settings&) const = default;
};

/// Reads the table (text, numbers and truth values as text). Error `malformed` for an unknown key
/// (the nearest one is named), a value out of its range, an endpoint that is no
/// `http(s)://HOST[:PORT]`, plain HTTP to another machine that is not allowed by `plain_http =
/// true`, or anything that looks like a secret: those do not belong into the studio file. An empty
/// table gives empty `endpoint`.
Settings parse_settings(const std::map<std::string, std::string>& table);

/// What requests are signed with. Never printed, logged or kept.
struct Credentials {
    std::string access_key;
    std::string secret_key;
    std::string session_token;  ///< may be empty
};

/// From the environment (AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_SESSION_TOKEN), else from
/// the section `profile` of the credentials file (AWS_SHARED_CREDENTIALS_FILE, else
/// `~/.aws/credentials`). Error `not_found` says where it looked; `malformed` names file and line,
/// never the content. `environment` gives a variable's value, empty when unset.
Credentials find_credentials(io::FileSystem& files, const std::string& profile,
                             const std::function<std::string(const char*)>& environment);

}  // namespace glassine::store
