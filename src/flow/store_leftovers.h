#pragma once

#include "flow/object_upload.h"
#include "glassine/store/client.h"

#include <functional>
#include <map>
#include <string>

namespace glassine::flow {

/// Every object whose key begins with `prefix`, over all pages.
void for_each_object(store::Client& client, const std::string& bucket, const std::string& prefix,
                     const std::function<void(const store::ObjectInfo&)>& visit);

/// What an interrupted run left of a bag, by key: objects below `root` (`whole`: that place is ours
/// alone) and below `staging`, and the newest upload of each key. Older uploads are taken back.
std::map<std::string, Leftover> find_leftovers(store::Client& client, const store::Address& root,
                                               bool whole, const store::Address& staging);

/// Takes back every upload that was begun below an address.
void abandon_uploads(store::Client& client, const store::Address& below);

}  // namespace glassine::flow
