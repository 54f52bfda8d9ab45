#include "glassine/flow/sink.h"

namespace glassine::flow {

void Stream::gap(std::uint64_t, std::uint64_t) {}

}  // namespace glassine::flow
