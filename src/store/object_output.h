#pragma once

#include "glassine/io/file_system.h"
#include "glassine/store/client.h"

#include <functional>
#include <memory>
#include <string>

namespace glassine::store {

/// A new object, there when it is closed. `done` is called then.
std::unique_ptr<io::OutputFile> create_object(Client& client, Address address,
                                              std::function<void()> done);
/// An object that begins with `content` and is sent anew at every `sync` and at `close`.
std::unique_ptr<io::OutputFile> extend_object(Client& client, Address address, std::string content,
                                              std::function<void()> done);

}  // namespace glassine::store
