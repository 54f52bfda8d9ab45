#include "journeys/mend_shelf.h"

#include "glassine/base/text.h"
#include "journeys/other_copies.h"
#include "journeys/store_checksums.h"

#include <algorithm>
#include <iterator>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {

std::vector<io::Path> MendShelf::other_copies(const io::Path& bag) {
    OtherCopies others = journeys::other_copies(records_, bag.filename().string(), bag);
    elsewhere_ = std::move(others.elsewhere);
    return std::move(others.connected);
}

void MendShelf::conclude(const io::Path& bag, const bagit::BagReport& last_look,
                         report::MendResult& result) {
    if (!result.dry_run && !last_look.stopped) {
        std::vector<std::string> notes;
        for (const report::HealedFile& file : result.healed)
            notes.push_back(fmt::format("{}: from {}", file.path, file.from));
        for (const std::string& name : result.beyond_repair)
            notes.push_back(fmt::format("{}: beyond repair", name));
        if (!result.healed.empty())
            records_.record_recovery(
                bag,
                result.beyond_repair.empty() ? shelf::Outcome::success : shelf::Outcome::partial,
                fmt::format("healed {}", text::counted(result.healed.size(), "file")),
                std::move(notes));
        records_.record_check(last_look, false);
        note_checksums(bag, last_look, result);
    }
    if (!result.beyond_repair.empty())
        std::ranges::move(copies_to_fetch(elsewhere_), std::back_inserter(result.findings));
    std::ranges::move(records_.take_findings(), std::back_inserter(result.findings));
}

/// What was healed in a store is another object there now.
void MendShelf::note_checksums(const io::Path& bag, const bagit::BagReport& last_look,
                               const report::MendResult& result) try {
    if (result.healed.empty()) return;
    if (last_look.valid.value_or(false))
        note_store_checksums(context_, records_, bag);
    else
        forget_store_checksums(context_, records_, bag);
} catch (const Error&) {
    // Then the next audit tells of an exchanged object that was healed.
    return;
}

}  // namespace glassine::journeys
