#pragma once

#include "glassine/io/file_system.h"
#include "glassine/store/client.h"

#include <memory>
#include <mutex>
#include <optional>

namespace glassine::store {

/// An object open for reading. `known`: what a listing said of it.
std::unique_ptr<io::InputFile> open_object(Client& client, Address address,
                                           std::optional<ObjectInfo> known);

/// An object as a file.
io::FileInfo file_info(const Address& address, const ObjectInfo& info);
/// A number for a store or an object, the same as long as it has this name.
std::uint64_t name_number(std::string_view name);

}  // namespace glassine::store
