#include "glassine/shelf/policy.h"

#include <chrono>

namespace glassine::shelf {

Date later(Date day, Period period) {
    using namespace std::chrono;
    Date moved = day + months(static_cast<int>(period.months));
    if (!moved.ok()) moved = moved.year() / moved.month() / last;
    return sys_days(moved) + days(period.days);
}

}  // namespace glassine::shelf
