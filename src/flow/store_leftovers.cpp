#include "flow/store_leftovers.h"

#include <utility>

namespace glassine::flow {
namespace {

/// The newest of several uploads of one key goes on; the others hold room that is paid for.
void take_uploads(store::Client& client, const store::Address& below,
                  std::map<std::string, Leftover>& leftovers) {
    std::map<std::string, store::Upload> newest;
    for (store::Upload& upload : client.uploads(below.bucket, below.key + "/")) {
        store::Upload& kept = newest[upload.key];
        if (kept.id.empty() || kept.begun < upload.begun) std::swap(kept, upload);
        if (!upload.id.empty()) client.abandon_upload({below.bucket, upload.key}, upload.id);
    }
    for (const auto& [key, upload] : newest) {
        Leftover& left = leftovers[key];
        left.upload = upload.id;
        for (const store::Part& part : client.parts({below.bucket, key}, upload.id))
            left.parts.emplace(part.number, part);
    }
}

}  // namespace

void for_each_object(store::Client& client, const std::string& bucket, const std::string& prefix,
                     const std::function<void(const store::ObjectInfo&)>& visit) {
    std::string next;
    do {
        store::Client::Page page = client.list(bucket, prefix, "", next);
        for (const store::ObjectInfo& object : page.objects)
            visit(object);
        next = std::move(page.next);
    } while (!next.empty());
}

std::map<std::string, Leftover> find_leftovers(store::Client& client, const store::Address& root,
                                               bool whole, const store::Address& staging) {
    std::map<std::string, Leftover> leftovers;
    const auto take = [&](const store::Address& below) {
        for_each_object(
            client, below.bucket, below.key + "/",
            [&](const store::ObjectInfo& object) { leftovers[object.key].object = object; });
        take_uploads(client, below, leftovers);
    };
    if (whole) take(root);
    take(staging);
    return leftovers;
}

void abandon_uploads(store::Client& client, const store::Address& below) {
    for (const store::Upload& upload : client.uploads(below.bucket, below.key + "/"))
        client.abandon_upload({below.bucket, upload.key}, upload.id);
}

}  // namespace glassine::flow
