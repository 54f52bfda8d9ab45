#include "journeys/places.h"

#include "glassine/bagit/layout.h"
#include "glassine/flow/object_destination.h"

#include <functional>

namespace glassine::journeys {
namespace {

store::Client& store_of(const Context& context, const io::Path& path) {
    if (context.object_store) return context.object_store();
    throw Error(Cause::not_supported, "write to the destination", path.string(),
                "no object store is set up", "see docs/object-store.md");
}

}  // namespace

bool is_in_store(const io::Path& path) {
    return store::is_address(path.native());
}

io::Path writable_folder(const Context& context, const std::string& given,
                         const std::string& tried) {
    if (!context.files.has_folders(given)) return store::parse_address(given).text();
    if (!context.files.find(given))
        throw Error(Cause::not_found, tried, given, "there is no such folder",
                    "check that the drive is connected; if the folder is meant to be new, create "
                    "it first");
    return context.files.resolve(given);
}

std::unique_ptr<flow::Destination> bag_destination(const Context& context, const io::Path& folder,
                                                   const std::string& bag_name) {
    if (is_in_store(folder))
        return flow::object_destination(context.files, store_of(context, folder),
                                        store::parse_address(folder.native()), bag_name);
    return flow::folder_destination(context.files, folder, bag_name);
}

std::unique_ptr<flow::FileDestination> single_file_destination(const Context& context,
                                                               const io::Path& folder,
                                                               const std::string& name) {
    if (is_in_store(folder))
        return flow::single_object_destination(context.files, store_of(context, folder),
                                               store::parse_address(folder.native()), name);
    return flow::file_destination(context.files, folder, name);
}

bool stands(const Context& context, const io::Path& path) {
    const auto there = context.files.find(path);
    if (!there || !is_in_store(path) || there->type == io::FileType::regular)
        return there.has_value();
    return context.files.find(path / bagit::declaration_file).has_value();
}

std::uint64_t volume_number(const Context& context, const io::Path& folder) {
    // A store's folder may still be nothing but a name.
    if (is_in_store(folder)) return std::hash<std::string>{}(folder.native());
    return context.files.info(folder).device;
}

}  // namespace glassine::journeys
