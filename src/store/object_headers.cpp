#include "store/object_headers.h"

#include <charconv>
#include <cmath>

#include <fmt/format.h>

namespace glassine::store {
namespace {

constexpr std::int64_t second = 1'000'000'000;
constexpr std::string_view time_header = "x-amz-meta-mtime";

std::string_view header(const HttpAnswer& answer, std::string_view name) {
    const auto at = answer.headers.find(name);
    return at == answer.headers.end() ? std::string_view() : std::string_view(at->second);
}

/// "1718374800.5": seconds since 1970 with a fraction of up to nine digits.
std::optional<Timestamp> file_time(std::string_view text) {
    std::int64_t seconds = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), seconds);
    constexpr std::int64_t most = 9'000'000'000;
    if (error != std::errc() || seconds > most || seconds < -most) return std::nullopt;
    std::string fraction(end, text.data() + text.size());
    if (!fraction.empty() && fraction.front() == '.') fraction.erase(0, 1);
    fraction.resize(9, '0');
    const std::uint64_t nanoseconds = number_of(fraction, 0);
    return Timestamp{seconds * second + static_cast<std::int64_t>(nanoseconds)};
}

/// "bytes 0-99/1000": the object's size.
std::uint64_t size_of(const HttpAnswer& answer) {
    const std::string_view range = header(answer, "content-range");
    if (const std::size_t slash = range.rfind('/'); slash != std::string_view::npos)
        return number_of(range.substr(slash + 1), 0);
    return number_of(header(answer, "content-length"), 0);
}

}  // namespace

std::uint64_t number_of(std::string_view digits, std::uint64_t otherwise) {
    std::uint64_t number = 0;
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), number);
    return error == std::errc() && end == digits.data() + digits.size() && !digits.empty()
               ? number
               : otherwise;
}

std::string unquoted(std::string_view etag) {
    if (etag.size() >= 2 && etag.front() == '"' && etag.back() == '"')
        etag = etag.substr(1, etag.size() - 2);
    return std::string(etag);
}

Timestamp listed_time(std::string_view text) {
    const Timestamp moment = parse_rfc3339(text).value_or(Timestamp{});
    return {moment.nanoseconds / second * second};
}

ObjectInfo object_info(const std::string& key, const HttpAnswer& answer) {
    ObjectInfo info;
    info.key = key;
    info.size = size_of(answer);
    info.etag = unquoted(header(answer, "etag"));
    const time_t modified =
        curl_getdate(std::string(header(answer, "last-modified")).c_str(), nullptr);
    if (modified > 0) info.modified = {static_cast<std::int64_t>(modified) * second};
    if (const std::string_view text = header(answer, time_header); !text.empty())
        info.file_time = file_time(text);
    return info;
}

std::vector<std::string> object_headers(const PutOptions& options, const Settings& settings) {
    std::vector<std::string> headers;
    if (options.file_time) {
        const std::int64_t nanoseconds = options.file_time->nanoseconds;
        const std::int64_t below = ((nanoseconds % second) + second) % second;
        headers.push_back(
            fmt::format("{}: {}.{:09}", time_header, (nanoseconds - below) / second, below));
    }
    if (options.only_new) headers.emplace_back("If-None-Match: *");
    if (!settings.storage_class.empty())
        headers.push_back("x-amz-storage-class: " + settings.storage_class);
    return headers;
}

}  // namespace glassine::store
