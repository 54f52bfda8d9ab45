#include "glassine/store/object_file_system.h"

#include "store/info_cache.h"
#include "store/object_input.h"
#include "store/object_output.h"

#include <algorithm>
#include <limits>
#include <utility>

namespace glassine::store {
namespace {

using io::Path;

/// Event logs and the like; more is not held in memory to be sent anew.
constexpr std::uint64_t largest_growing_object = 64u << 20;

class NoLock : public io::Lock {};

class ObjectFileSystem : public io::ForwardingFileSystem {
  public:
    ObjectFileSystem(io::FileSystem& local, ClientSource source)
        : ForwardingFileSystem(local), source_(std::move(source)) {}

    io::FileInfo info(const Path& path) override {
        if (!is_object(path)) return target().info(path);
        const Address address = address_of(path);
        if (const auto known = cache_.find(address)) return file_info(address, *known);
        const auto there = find(path);
        if (!there) throw missing("look at", address);
        return *there;
    }

    std::optional<io::FileInfo> find(const Path& path) override {
        if (!is_object(path)) return target().find(path);
        const Address address = address_of(path);
        if (address.key.empty()) {
            client().check_bucket(address.bucket);
            return folder_info(address);
        }
        if (const auto object = client().find(address)) return file_info(address, *object);
        const Client::Page below = client().list(address.bucket, address.key + "/", "", "", 1);
        if (below.objects.empty() && below.prefixes.empty()) return std::nullopt;
        return folder_info(address);
    }

    std::vector<io::DirectoryEntry> list(const Path& directory) override {
        if (!is_object(directory)) return target().list(directory);
        const Address address = address_of(directory);
        const std::string prefix = address.key.empty() ? "" : address.key + "/";
        std::vector<io::DirectoryEntry> entries;
        std::string next;
        bool any = false;
        do {
            Client::Page page = client().list(address.bucket, prefix, "/", next);
            any = any || !page.objects.empty() || !page.prefixes.empty();
            take_page(address, prefix, page, entries);
            next = std::move(page.next);
        } while (!next.empty());
        if (!any && !address.key.empty()) throw missing("list the folder", address);
        std::ranges::sort(entries, {}, &io::DirectoryEntry::name);
        return entries;
    }

    std::string store_checksum(const Path& path) override {
        if (!is_object(path)) return target().store_checksum(path);
        const auto known = cache_.find(address_of(path));
        return known ? known->etag : std::string();
    }

    std::string read_link(const Path& path) override {
        if (!is_object(path)) return target().read_link(path);
        throw no_such_thing("read the link", path, "an object store has no links");
    }

    std::unique_ptr<io::InputFile> open(const Path& path, io::Cache cache) override {
        if (!is_object(path)) return target().open(path, cache);
        const Address address = address_of(path);
        return open_object(client(), address, cache_.find(address));
    }

    std::unique_ptr<io::OutputFile> create(const Path& path) override {
        if (!is_object(path)) return target().create(path);
        const Address address = address_of(path);
        refuse_standing(address, "create");
        return create_object(client(), address, [this, address] { cache_.forget(address); });
    }

    std::unique_ptr<io::OutputFile> append_to(const Path& path) override {
        if (!is_object(path)) return target().append_to(path);
        const Address address = address_of(path);
        return extend_object(client(), address, whole(address),
                             [this, address] { cache_.forget(address); });
    }

    bool has_folders(const Path& path) override {
        return !is_object(path) && target().has_folders(path);
    }

    void make_directory(const Path& path) override {
        if (!is_object(path)) return target().make_directory(path);
        Address address = address_of(path);
        refuse_standing(address, "create the folder");
        address.key += '/';
        client().put(address, {}, {});
    }

    void rename(const Path& from, const Path& to) override {
        if (!is_object(from) && !is_object(to)) return target().rename(from, to);
        require_both(from, to);
        refuse_standing(address_of(to), "rename");
        replace(from, to);
    }

    void replace(const Path& from, const Path& to) override {
        if (!is_object(from) && !is_object(to)) return target().replace(from, to);
        require_both(from, to);
        const Address source = address_of(from);
        const Address destination = address_of(to);
        client().copy(source, destination);
        cache_.forget(destination);
        remove(source);
    }

    void remove_file(const Path& path) override {
        if (!is_object(path)) return target().remove_file(path);
        const Address address = address_of(path);
        if (!client().find(address)) throw missing("remove", address);
        remove(address);
    }

    void remove_directory(const Path& path) override {
        if (!is_object(path)) return target().remove_directory(path);
        Address marker = address_of(path);
        marker.key += '/';
        remove(marker);
    }

    void set_modified(const Path& path, Timestamp moment) override {
        if (!is_object(path)) target().set_modified(path, moment);
    }
    void sync_file(const Path& path) override {
        if (!is_object(path)) target().sync_file(path);
    }
    void sync_directory(const Path& path) override {
        if (!is_object(path)) target().sync_directory(path);
    }

    io::Space space(const Path& path) override {
        if (!is_object(path)) return target().space(path);
        return {std::numeric_limits<std::uint64_t>::max(), 0};
    }

    io::Volume volume(const Path& path) override {
        if (!is_object(path)) return target().volume(path);
        const Address address = address_of(path);
        io::Volume volume;
        volume.file_system = "s3";
        volume.mount_point = Address{address.bucket, ""}.text();
        volume.device = client().settings().endpoint;
        volume.requests = client().settings().connections;
        return volume;
    }

    Path resolve(const Path& path) override {
        if (!is_object(path)) return target().resolve(path);
        // There are no links, and a folder need not be there to be written into.
        return address_of(path).text();
    }

    std::unique_ptr<io::Lock> try_lock(const Path& path) override {
        if (!is_object(path)) return target().try_lock(path);
        return std::make_unique<NoLock>();
    }

  private:
    static bool is_object(const Path& path) { return is_address(path.native()); }
    static Address address_of(const Path& path) { return parse_address(path.native()); }

    Client& client() { return source_(); }

    static Error missing(const std::string& tried, const Address& address) {
        return {Cause::not_found, tried, address.text(),
                "there is nothing of that name in the object store",
                "check bucket and folder; `glassine audit` on the folder above lists its bags"};
    }

    static Error no_such_thing(const std::string& tried, const Path& path, const std::string& why) {
        return {Cause::not_supported, tried, path.string(), why, "name a folder on a drive"};
    }

    static void require_both(const Path& from, const Path& to) {
        if (is_object(from) && is_object(to)) return;
        throw no_such_thing("rename", from, "the new name lies in another place");
    }

    void refuse_standing(const Address& address, const std::string& tried) {
        if (client().find(address))
            throw Error(Cause::exists, tried, address.text(), "an object of that name is there",
                        "nothing is ever replaced: choose another name");
    }

    static io::FileInfo folder_info(const Address& address) {
        io::FileInfo folder = file_info(address, {});
        folder.type = io::FileType::directory;
        return folder;
    }

    void take_page(const Address& folder, const std::string& prefix, const Client::Page& page,
                   std::vector<io::DirectoryEntry>& entries) {
        for (const ObjectInfo& object : page.objects) {
            const std::string name = object.key.substr(prefix.size());
            if (name.empty()) continue;  // the folder itself
            entries.push_back({name, io::FileType::regular});
            cache_.note(folder.below(name), object);
        }
        for (const std::string& below : page.prefixes) {
            std::string name = below.substr(prefix.size());
            name.pop_back();
            if (!name.empty()) entries.push_back({std::move(name), io::FileType::directory});
        }
    }

    std::string whole(const Address& address) {
        const auto object = client().find(address);
        if (!object) return {};
        if (object->size > largest_growing_object)
            throw Error(Cause::not_supported, "add to", address.text(),
                        "it has grown too large to be sent anew each time",
                        "move it to another name in the store; a new one is begun then");
        std::string content(static_cast<std::size_t>(object->size), '\0');
        const auto input = open_object(client(), address, object);
        const std::size_t got = input->read(0, std::as_writable_bytes(std::span(content)));
        content.resize(got);
        return content;
    }

    void remove(const Address& address) {
        client().remove(address);
        cache_.forget(address);
    }

    ClientSource source_;
    InfoCache cache_;
};

}  // namespace

std::unique_ptr<io::FileSystem> with_object_stores(io::FileSystem& local, ClientSource source) {
    return std::make_unique<ObjectFileSystem>(local, std::move(source));
}

}  // namespace glassine::store
