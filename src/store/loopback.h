#pragma once

#include <string_view>

namespace glassine::store {

/// Whether a host (with or without a port) is this computer by its very name: nothing has to be
/// looked up that somebody could answer otherwise.
inline bool on_this_machine(std::string_view host) {
    if (host.starts_with('[')) return host.substr(0, host.find(']') + 1) == "[::1]";
    const std::string_view name = host.substr(0, host.find(':'));
    return name == "localhost" || (name.starts_with("127.") &&
                                   name.find_first_not_of("0123456789.") == std::string_view::npos);
}

}  // namespace glassine::store
