#include "journeys/recovery_making.h"

#include <algorithm>
#include <iterator>
#include <map>
#include <string_view>
#include <utility>

namespace glassine::journeys {
namespace {

recovery::Options options_for(unsigned percent) {
    recovery::Options options;
    options.percent = percent * 100;
    return options;
}

}  // namespace

RecoveryMaking::RecoveryMaking(unsigned percent, std::vector<recovery::FileSize> payload,
                               Copies& copies, BagMaking& bag)
    : bag_(bag),
      digests_({digest::Algorithm::sha512},
               [&bag](const flow::Item& item, const std::vector<digest::Value>& values) {
                   bag.tag_written(item.name, values.front());
               }),
      encoder_(options_for(percent), std::move(payload), {&copies.all(), &digests_}) {}

void RecoveryMaking::finish() {
    const std::vector<recovery::FileSize> small = bag_.small_files();
    encoder_.add_tag_files(small);
    for (const recovery::FileSize& file : small)
        encoder_.put(file.name, bag_.small_file(file.name));
    encoder_.finish();
}

std::uint64_t RecoveryMaking::expected_bytes(unsigned percent, std::uint64_t payload_bytes) {
    // Half a point for check values and headers, and a little for the tag files' own.
    return percent == 0 ? 0 : payload_bytes / 200 * (2 * percent + 1) + (4u << 20);
}

void read_in_sets(const RecoveryMaking* making, std::span<const flow::Item> items,
                  const std::function<bool(std::span<const flow::Item>)>& read) {
    if (making == nullptr) {
        read(items);
        return;
    }
    std::map<std::string_view, const flow::Item*> by_name;
    std::vector<flow::Item> not_covered;
    for (const flow::Item& item : items)
        if (item.name.empty())
            not_covered.push_back(item);
        else
            by_name[item.name] = &item;
    const auto sets = making->reading_sets();
    for (std::size_t i = 0; i < std::max<std::size_t>(sets.size(), 1); ++i) {
        std::vector<flow::Item> set;
        if (i < sets.size())
            for (const std::string_view name : sets[i])
                set.push_back(*by_name.at(name));
        if (i + 1 >= sets.size()) std::ranges::move(not_covered, std::back_inserter(set));
        if (!read(set)) return;
    }
}

}  // namespace glassine::journeys
