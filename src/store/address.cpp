#include "glassine/store/address.h"

#include "glassine/base/error.h"
#include "glassine/base/text.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::store {
namespace {

constexpr std::string_view scheme = "s3:/";

bool may_be_in_bucket_name(char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '.' || c == '-';
}

bool is_bucket_name(std::string_view name) {
    return name.size() >= 3 && name.size() <= 63 &&
           std::ranges::all_of(name, may_be_in_bucket_name) && name.front() != '.' &&
           name.front() != '-' && name.back() != '.' && name.back() != '-' &&
           name.find("..") == std::string_view::npos;
}

/// Parts between `/`, empty ones left out, joined again.
std::string tidy(std::string_view path) {
    std::string out;
    while (!path.empty()) {
        const std::string_view part = path.substr(0, path.find('/'));
        if (!part.empty()) {
            if (!out.empty()) out += '/';
            out += part;
        }
        path.remove_prefix(std::min(part.size() + 1, path.size()));
    }
    return out;
}

}  // namespace

std::string Address::text() const {
    std::string out = "s3://" + bucket;
    if (!key.empty()) out.append("/").append(key);
    return out;
}

Address Address::below(std::string_view part) const {
    Address inner = *this;
    if (part.empty()) return inner;
    if (!inner.key.empty()) inner.key += '/';
    inner.key += part;
    return inner;
}

bool is_address(std::string_view path) {
    return path.starts_with(scheme);
}

Address parse_address(std::string_view path) {
    const std::string rest = tidy(path.substr(std::min(scheme.size(), path.size())));
    const std::size_t slash = rest.find('/');
    Address address{rest.substr(0, slash),
                    slash == std::string::npos ? std::string() : rest.substr(slash + 1)};
    if (!is_address(path) || !is_bucket_name(address.bucket))
        throw Error(Cause::usage, "find the place in the object store", std::string(path),
                    "it does not name a bucket (3 to 63 small letters, digits, dots and hyphens)",
                    "write it as s3://BUCKET or s3://BUCKET/FOLDER");
    if (address.key.size() > longest_key)
        throw Error(Cause::not_supported, "find the place in the object store", std::string(path),
                    fmt::format("its name has {} bytes, and the store's names end at {}",
                                text::grouped(address.key.size()), text::grouped(longest_key)),
                    "shorten it");
    return address;
}

}  // namespace glassine::store
