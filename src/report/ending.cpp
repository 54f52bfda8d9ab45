#include "glassine/report/results.h"

#include <algorithm>

namespace glassine::report {

std::string_view word(Ending ending) {
    switch (ending) {
        case Ending::good:
            return "ok";
        case Ending::attention:
            return "attention";
        case Ending::failed:
            return "failed";
        case Ending::interrupted:
            return "interrupted";
    }
    return "failed";
}

Ending worse(Ending a, Ending b) {
    return static_cast<int>(a) > static_cast<int>(b) ? a : b;
}

}  // namespace glassine::report
