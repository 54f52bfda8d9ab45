#pragma once

#include "glassine/store/client.h"
#include "store/http.h"

namespace glassine::store {

/// What an answer's headers say of the object that was asked for.
ObjectInfo object_info(const std::string& key, const HttpAnswer& answer);
/// The headers that go with a new object.
std::vector<std::string> object_headers(const PutOptions& options, const Settings& settings);
std::string unquoted(std::string_view etag);
std::uint64_t number_of(std::string_view digits, std::uint64_t otherwise);
/// RFC 3339 as listings have it, cut to whole seconds: HEAD knows no more, and the two are
/// compared.
Timestamp listed_time(std::string_view text);

}  // namespace glassine::store
