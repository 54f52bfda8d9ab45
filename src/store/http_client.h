#pragma once

#include "glassine/store/client.h"
#include "store/requests.h"

#include <memory>

namespace glassine::store {

/// As `http_client` in the public header, with a waiting of one's own between attempts.
std::unique_ptr<Client> http_client(Settings settings, Credentials credentials,
                                    std::stop_token stop, std::unique_ptr<Backoff> backoff);

}  // namespace glassine::store
