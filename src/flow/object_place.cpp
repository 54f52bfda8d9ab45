#include "flow/object_place.h"

#include "glassine/base/text.h"

#include <utility>
#include <vector>

#include <fmt/format.h>

namespace glassine::flow {
namespace {

using store::Address;

constexpr std::string_view mark_name = "begun";

bool has_anything_below(store::Client& client, const Address& address) {
    return !client.list(address.bucket, address.key + "/", "", "", 1).objects.empty();
}

}  // namespace

ObjectPlace::ObjectPlace(store::Client& client, Address folder, std::string name, Holds holds)
    : client_(client),
      holds_(holds),
      folder_(std::move(folder)),
      name_(std::move(name)),
      root_(holds == Holds::bag ? folder_.below(name_) : folder_),
      staging_(folder_.below(staging_name(name_))) {}

Address ObjectPlace::address_of(std::string_view name) const {
    if (holds_ == Holds::single || name == declaration_name) return staging_.below(name);
    return root_.below(name);
}

void ObjectPlace::check(const Destination::Need& need) const {
    client_.check_bucket(folder_.bucket);
    const std::size_t longest = root_.key.size() + 1 + need.longest_name;
    if (longest > store::longest_key) throw too_long(longest);
    if (need.largest_file > store::largest_object)
        throw Error(Cause::not_supported, "write to the destination", folder_.text(),
                    fmt::format("the job has a file of {}, and a store's objects end at {}",
                                text::human_bytes(need.largest_file),
                                text::human_bytes(store::largest_object)),
                    "name a folder on a drive; nothing was written");
    const Address taken = holds_ == Holds::bag ? root_.below(declaration_name) : published();
    if (client_.find(taken)) throw already_there();
    if (holds_ == Holds::bag && !client_.find(staging_.below(mark_name)) &&
        has_anything_below(client_, root_))
        throw Error(Cause::exists, "seal the bag", published().text(),
                    "objects stand there that are no bag, and no earlier run left them",
                    "move them away, or give this job another description");
}

void ObjectPlace::check_key(const Address& address) const {
    if (address.key.size() > store::longest_key) throw too_long(address.key.size());
}

Error ObjectPlace::already_there() const {
    return {Cause::exists, "seal the bag", published().text(),
            holds_ == Holds::bag ? "a bag of that name is there already"
                                 : "an object of that name is there already",
            "nothing is ever replaced: audit what is there, or give this job another "
            "description"};
}

Error ObjectPlace::too_long(std::size_t bytes) const {
    return {Cause::not_supported, "write to the destination", folder_.text(),
            fmt::format("a name there would have {} bytes, and the store's names end at {}",
                        text::grouped(bytes), text::grouped(store::longest_key)),
            "shorten the names of the job's folders and files, or the folder in the store"};
}

std::map<std::string, Leftover> ObjectPlace::leftovers() const {
    return find_leftovers(client_, root_, holds_ == Holds::bag, staging_);
}

void ObjectPlace::put_mark(const std::string& content) const {
    client_.put(staging_.below(mark_name), std::as_bytes(std::span(content)), {});
}

void ObjectPlace::remove_strays(const std::set<std::string>& wanted) const {
    std::vector<Address> strays;
    for_each_object(client_, root_.bucket, root_.key + "/", [&](const store::ObjectInfo& o) {
        if (!wanted.contains(o.key)) strays.push_back({root_.bucket, o.key});
    });
    for (const Address& stray : strays)
        client_.remove(stray);
    abandon_uploads(client_, root_);
}

void ObjectPlace::publish_single() const {
    if (client_.find(published())) throw already_there();
    client_.copy(staged(), published());
}

void ObjectPlace::clear_staging() const {
    abandon_uploads(client_, staging_);
    std::vector<Address> left;
    for_each_object(client_, staging_.bucket, staging_.key + "/", [&](const store::ObjectInfo& o) {
        left.push_back({staging_.bucket, o.key});
    });
    for (const Address& address : left)
        client_.remove(address);
}

}  // namespace glassine::flow
