#pragma once

#include "glassine/flow/file_destination.h"
#include "glassine/journeys/context.h"

#include <cstdint>
#include <memory>
#include <string>

/// Where bags are written to: a folder on a volume, or one in an object store. Only this file knows
/// which is which.
namespace glassine::journeys {

bool is_in_store(const io::Path& path);

/// The folder that a user names to write into, with links resolved. Error `not_found` when it has
/// to be there and is not; `tried` as in `Error`.
io::Path writable_folder(const Context& context, const std::string& given,
                         const std::string& tried);

/// A destination for a bag's folder below `folder`.
std::unique_ptr<flow::Destination> bag_destination(const Context& context, const io::Path& folder,
                                                   const std::string& bag_name);
/// A destination for one file, `folder/name`.
std::unique_ptr<flow::FileDestination> single_file_destination(const Context& context,
                                                               const io::Path& folder,
                                                               const std::string& name);

/// Whether a bag or file stands under its name. What an interrupted run has left in a store, where
/// nothing can be renamed into place, does not.
bool stands(const Context& context, const io::Path& path);

/// The same number for folders whose copies are to be proven one after another.
std::uint64_t volume_number(const Context& context, const io::Path& folder);

}  // namespace glassine::journeys
