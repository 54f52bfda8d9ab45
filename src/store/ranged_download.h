#pragma once

#include "glassine/store/client.h"
#include "store/requests.h"

#include <memory>

namespace glassine::store {

/// See `Client::get`.
std::unique_ptr<Download> ranged_download(Requests& requests, const Address& address,
                                          std::uint64_t offset, std::uint64_t length,
                                          const std::string& etag);

}  // namespace glassine::store
