#pragma once

#include <optional>
#include <string>
#include <string_view>

/// Object stores that speak S3, the open de-facto interface of object stores: requests, signatures,
/// listings, and a file system made of them.
namespace glassine::store {

/// A place in an object store, written `s3://BUCKET/KEY`.
struct Address {
    std::string bucket;
    std::string
        key;  ///< UTF-8 as it is, without a leading or trailing `/`; empty: the bucket itself

    /// "s3://BUCKET/KEY"
    std::string text() const;
    /// KEY joined with a further part.
    Address below(std::string_view part) const;
    bool operator==(const Address&) const = default;
};

/// Whether a path as a user gives it names a place in an object store: `s3://…`, and `s3:/…`, which
/// std::filesystem makes of it.
bool is_address(std::string_view path);

/// Reads an address; runs of `/` count as one, a trailing `/` is dropped. Throws Error `usage` when
/// there is no bucket or its name cannot be one (3 to 63 of a-z, 0-9, `.` and `-`, Amazon S3 User
/// Guide, "General purpose bucket naming rules"), `not_supported` when the key is longer than
/// `longest_key`.
Address parse_address(std::string_view path);

/// The longest key, in bytes of UTF-8 (Amazon S3 User Guide, "Naming Amazon S3 objects").
inline constexpr std::size_t longest_key = 1024;

}  // namespace glassine::store
