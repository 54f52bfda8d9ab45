#include "glassine/base/version.h"

namespace glassine {

std::string_view version() {
    return GLASSINE_VERSION;
}

}  // namespace glassine
