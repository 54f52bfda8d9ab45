#include "chain.h"

#include "glassine/photo/dcf.h"

namespace glassine::job {
namespace {

constexpr int longest_burst = 100;          // frames that may come out of order
constexpr std::int64_t same_moment = 1000;  // milliseconds

}  // namespace

std::optional<int> Chain::steps_to(const Link& link, int limit) const {
    const int steps = photo::dcf::steps(links_.rbegin()->second.number, link.number);
    if (steps > limit) return std::nullopt;
    return steps;
}

void Chain::extend(const Link& link, int steps) {
    links_.try_emplace(links_.rbegin()->first + steps, link);
}

bool Chain::fill_in(const Link& link) {
    const auto& [end, last] = *links_.rbegin();
    const int back = photo::dcf::steps(link.number, last.number);
    const std::int64_t place = end - back;
    if (back > longest_burst || place < links_.begin()->first) return false;
    if (!link.milliseconds || !last.milliseconds ||
        *link.milliseconds - *last.milliseconds > same_moment)
        return false;
    return links_.try_emplace(place, link).second;
}

int Chain::number_at(std::int64_t place) {
    return static_cast<int>((place - 1) % photo::dcf::last_number) + 1;
}

}  // namespace glassine::job
