#include "journeys/bag_reading.h"

#include "glassine/base/text.h"
#include "glassine/flow/destination.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace glassine::journeys {

flow::Options reading_options(const Context& context) {
    flow::Options options;
    options.resources = context.resources;
    options.stop = context.stop;
    return options;
}

bagit::Bag load_bag(const Context& context, const io::Path& folder,
                    const bagit::LoadOptions& options) {
    return bagit::load_folder(context.files, folder, options, reading_options(context));
}

bagit::BagReport read_again(const Context& context, const io::Path& folder) {
    const auto phase =
        context.monitor.phase(fmt::format("Reading again {}", text::for_terminal(folder.string())));
    bagit::CheckOptions options;
    options.flow = reading_options(context);
    options.flow.cache = io::Cache::bypass;
    options.flow.observer = phase.get();
    return bagit::check_folder(context.files, folder, options);
}

void clear_leftovers_beside(const Context& context, const io::Path& bag) noexcept {
    try {
        flow::clear_staging(context.files, bag.parent_path(), bag.filename().string());
    } catch (const Error&) {
        // Another run may be at work there, or what stands in the place is not ours.
        return;
    }
}

bool calls_for_mending(const Finding& finding) {
    using enum FindingKind;
    constexpr std::array kinds{payload_altered, payload_missing, payload_moved,
                               tag_altered,     tag_missing,     unreadable};
    return finding.severity == Severity::damage &&
           std::ranges::find(kinds, finding.kind) != kinds.end();
}

}  // namespace glassine::journeys
