#include "glassine/bagit/check.h"
#include "glassine/bagit/path.h"
#include "glassine/base/text.h"

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

using enum FindingKind;

Finding unreadable_range(std::string name, std::string detail, flow::ByteRange range) {
    Finding finding = found(unreadable, std::move(name), std::move(detail));
    finding.offset = range.offset;
    finding.length = range.length;
    return finding;
}

}  // namespace

std::vector<Finding> outcome_findings(const Listing::Entry& file, const flow::Outcome& outcome) {
    using flow::Status;
    const std::string name(file.name);
    switch (outcome.status) {
        case Status::whole:
        case Status::cancelled:
            return {};
        case Status::changed:
            return {found(changed_while_reading, Severity::damage, name, outcome.why)};
        case Status::vanished:
            return {found(in_payload(name) ? payload_missing : tag_missing, name,
                          "it was there when the bag was listed and is gone now")};
        case Status::gaps:
        case Status::unreadable:
            break;
    }
    std::vector<Finding> out;
    for (const flow::ByteRange& gap : outcome.gaps)
        out.push_back(unreadable_range(
            name,
            fmt::format("{} from byte {} on cannot be read", text::counted(gap.length, "byte"),
                        text::grouped(gap.offset)),
            gap));
    if (out.empty()) out.push_back(unreadable_range(name, outcome.why, {0, file.size}));
    return out;
}

}  // namespace glassine::bagit
