#pragma once

#include "glassine/store/client.h"

#include <mutex>
#include <optional>
#include <string>
#include <unordered_map>

namespace glassine::store {

/// What listings said of objects, so that reading a bag needs one request an object and not two.
/// Good for opening only: every read asks for that very object by its ETag, so an old word is
/// noticed.
class InfoCache {
  public:
    void note(const Address& address, const ObjectInfo& info) {
        const std::lock_guard lock(mutex_);
        // Forgetting everything costs a request for each object still wanted, no more.
        if (known_.size() >= most) known_.clear();
        known_.insert_or_assign(address.text(), info);
    }
    void forget(const Address& address) {
        const std::lock_guard lock(mutex_);
        known_.erase(address.text());
    }
    std::optional<ObjectInfo> find(const Address& address) {
        const std::lock_guard lock(mutex_);
        const auto at = known_.find(address.text());
        if (at == known_.end()) return std::nullopt;
        return at->second;
    }

  private:
    static constexpr std::size_t most = 200'000;  ///< about 50 MB
    std::mutex mutex_;
    std::unordered_map<std::string, ObjectInfo> known_;
};

}  // namespace glassine::store
