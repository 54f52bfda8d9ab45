#include "cli/object_store.h"

#include <cstdlib>
#include <utility>

namespace glassine::cli {

std::string environment(const char* name) {
    const char* value = std::getenv(name);
    return value == nullptr ? "" : value;
}

ObjectStore::ObjectStore(io::FileSystem& local, std::map<std::string, std::string> table,
                         std::stop_token stop)
    : local_(local),
      table_(std::move(table)),
      stop_(std::move(stop)),
      files_(store::with_object_stores(local, source())) {}

store::ClientSource ObjectStore::source() {
    return [this]() -> store::Client& { return client(); };
}

store::Client& ObjectStore::client() {
    const std::lock_guard lock(mutex_);
    if (client_) return *client_;
    store::Settings settings = store::parse_settings(table_);
    if (settings.endpoint.empty())
        throw Error(Cause::usage, "connect to the object store", "s3://",
                    "the studio file does not say where it is",
                    "set endpoint in its table [object_store]; docs/object-store.md shows how");
    store::Credentials credentials = store::find_credentials(local_, settings.profile, environment);
    client_ = store::http_client(std::move(settings), std::move(credentials), stop_);
    return *client_;
}

}  // namespace glassine::cli
