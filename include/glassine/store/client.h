#pragma once

#include "glassine/base/error.h"
#include "glassine/base/time.h"
#include "glassine/digest/digest.h"
#include "glassine/store/address.h"
#include "glassine/store/settings.h"

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <stop_token>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::store {

/// What the store says of an object.
struct ObjectInfo {
    std::string key;
    std::uint64_t size = 0;  ///< bytes
    Timestamp modified;      ///< when it was put there (Last-Modified)
    std::string etag;        ///< without quotes
    /// The file's own time, from `x-amz-meta-mtime`; only asked by `find` and downloads, never in
    /// listings.
    std::optional<Timestamp> file_time;
};

/// What goes with an object.
struct PutOptions {
    std::optional<Timestamp> file_time;  ///< kept as `x-amz-meta-mtime`, seconds with a fraction
    /// Refuse when an object of this key stands there (`If-None-Match: *`), Error `exists`; not
    /// when it is this very one, sent by an attempt whose answer was lost. Not every store honours
    /// it: look before and after.
    bool only_new = false;
};

/// Bytes to be sent, and their MD5, which goes with them and of which stores make ETags. The bytes
/// must stay as they are for as long as this is used.
struct Body {
    std::span<const std::byte> bytes;
    digest::Value md5;

    Body() : Body(std::span<const std::byte>{}) {}
    Body(std::span<const std::byte> to_send)
        : bytes(to_send), md5(digest::digest_of(digest::Algorithm::md5, to_send)) {}
};

/// One part of an upload as the store holds it.
struct Part {
    unsigned number = 0;  ///< 1 to 10,000
    std::uint64_t size = 0;
    std::string etag;  ///< MD5 of the part, in stores that make it so
};

/// An upload that was begun and neither completed nor taken back.
struct Upload {
    std::string key;
    std::string id;
    Timestamp begun;
};

/// The bytes of a range of an object as they arrive, in order. One thread at a time.
class Download {
  public:
    virtual ~Download() = default;
    /// The next bytes: as many as `into` holds, less only at the range's end, then 0. A connection
    /// that breaks is taken up again where it stopped, as long as the object is the same one.
    /// Throws Error `unreadable` when the store does not give the bytes, `changed` when the object
    /// was replaced meanwhile, `not_found` when it is gone.
    virtual std::size_t read(std::span<std::byte> into) = 0;
    /// Known once `Client::get` has returned.
    virtual const ObjectInfo& info() const = 0;
};

/// Largest number of parts of one object, and the smallest part but the last (Amazon S3 User
/// Guide, "Amazon S3 multipart upload limits").
inline constexpr unsigned most_parts = 10'000;
inline constexpr std::uint64_t smallest_part = 5u << 20;
inline constexpr std::uint64_t largest_part = 5ull << 30;
inline constexpr std::uint64_t largest_object = 5ull << 40;

/// The size of part that brings an object of `size` bytes into no more than `most_parts`, at least
/// `wanted`, a multiple of 1 MiB.
std::uint64_t part_size_for(std::uint64_t size, std::uint64_t wanted);

/// Requests to one store. Every function may be called from several threads at once; each call
/// holds one connection while it lasts, and waits for one when `Settings::connections` are in use.
/// A `Download` has a connection of its own beside those until its last byte is read or it ends:
/// who holds one may ask for more without waiting for itself.
///
/// A request that fails for a reason that may pass (no connection, a connection cut, a time-out,
/// 429, 500, 502, 503, 504, SlowDown, RequestTimeout) is tried again after a wait that doubles each
/// time, up to 20 seconds, of which a random part is waited (full jitter); a `Retry-After` is
/// heeded. `Settings::attempts` in all. Stopping takes effect within a second. What is sent is
/// checked by the store: every body goes with `x-amz-content-sha256` and `Content-MD5`.
///
/// Errors name the endpoint, the bucket and the key, say what to do next, and hold no secret:
/// `not_found` (no such bucket, no such object), `permission` (wrong key, no right, clock skew:
/// then both times are told), `no_space` (QuotaExceeded, the store is full: 507 and its like),
/// `exists` (412), `busy` (still throttled after all attempts), `unreadable` (a body that is short
/// or altered after all attempts, no answer), `read_only` (objects locked against change),
/// `interrupted` (stopped), `other`. `Error::path()` is the address as `s3://…`.
class Client {
  public:
    virtual ~Client() = default;

    virtual const Settings& settings() const = 0;

    /// Error when the bucket is not there or may not be looked into.
    virtual void check_bucket(const std::string& bucket) = 0;
    /// The object, or nothing (HEAD).
    virtual std::optional<ObjectInfo> find(const Address& address) = 0;
    struct Page {
        std::vector<ObjectInfo> objects;    ///< in key order (UTF-8 bytes)
        std::vector<std::string> prefixes;  ///< common prefixes up to and with `delimiter`
        std::string next;                   ///< hand it in again for the next page; empty: no more
    };
    /// One page of a listing: keys that begin with `prefix` (raw bytes, may end in `/`).
    /// `delimiter` empty: all of them. At most `limit` (1 to 1,000) entries.
    virtual Page list(const std::string& bucket, const std::string& prefix,
                      const std::string& delimiter, const std::string& next,
                      unsigned limit = 1000) = 0;

    /// Begins to fetch `length` bytes from `offset`; `length` may reach past the end, and what lies
    /// behind the end is empty. With `etag`:
    /// only of that very object (`If-Match`), Error `changed` else. The answer's status and headers
    /// have arrived when this returns.
    virtual std::unique_ptr<Download> get(const Address& address, std::uint64_t offset,
                                          std::uint64_t length, const std::string& etag) = 0;

    /// One object in one request; gives its ETag.
    virtual std::string put(const Address& address, const Body& body,
                            const PutOptions& options) = 0;

    virtual std::string begin_upload(const Address& address, const PutOptions& options) = 0;
    /// Gives the part's ETag.
    virtual std::string put_part(const Address& address, const std::string& upload, unsigned number,
                                 const Body& body) = 0;
    /// Makes the object of its parts (numbers ascending). Safe to repeat: an upload that is gone
    /// because an earlier answer was lost counts as done when the object stands there with the
    /// right size.
    virtual void complete_upload(const Address& address, const std::string& upload,
                                 std::span<const Part> parts, bool only_new = false) = 0;
    /// No error when it is gone already.
    virtual void abandon_upload(const Address& address, const std::string& upload) = 0;
    /// All uploads under way whose key begins with `prefix`, every page.
    virtual std::vector<Upload> uploads(const std::string& bucket, const std::string& prefix) = 0;
    /// All parts that the store holds of an upload, every page; empty when the upload is gone.
    virtual std::vector<Part> parts(const Address& address, const std::string& upload) = 0;

    /// A copy within the store, made by the store (objects up to 5 GiB in one request, larger ones
    /// by parts).
    virtual void copy(const Address& from, const Address& to) = 0;
    /// No error when it is gone already.
    virtual void remove(const Address& address) = 0;
};

/// A client over libcurl. Nothing is sent yet. `stop` ends every request. The process must ignore
/// SIGPIPE, as the program does: a connection under TLS that the store has closed raises it.
std::unique_ptr<Client> http_client(Settings settings, Credentials credentials,
                                    std::stop_token stop);

}  // namespace glassine::store
