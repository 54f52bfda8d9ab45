#include "evidence.h"

#include "glassine/base/text.h"

#include <algorithm>

namespace glassine::job {
namespace {

std::string folded(std::string_view text) {
    return text::fold_case(text::trim(text));
}

/// The last part of a name from metadata, which may be a path of any system.
std::string_view last_part(std::string_view name) {
    return name.substr(name.find_last_of("/\\") + 1);
}

std::string without_underscores(std::string prefix) {
    std::erase(prefix, '_');
    return prefix;
}

}  // namespace

std::optional<std::int64_t> Evidence::second() const {
    if (!milliseconds) return std::nullopt;
    const std::int64_t rest = ((*milliseconds % 1000) + 1000) % 1000;
    return (*milliseconds - rest) / 1000;
}

Evidence evidence_of(const JobFile& file, const photo::Picture& picture) {
    Evidence evidence;
    if (!picture.model.empty())
        evidence.model = folded(picture.make) + '\n' + folded(picture.model);
    evidence.serial = folded(picture.serial);
    if (picture.captured) {
        evidence.milliseconds = picture.captured->local.time_since_epoch().count();
        evidence.has_subseconds = picture.captured->has_subseconds;
    }
    const std::string_view name = file_name_of(file.shown);
    const std::string_view original = last_part(picture.original_name);
    evidence.stem = text::fold_case(stem_of(name));
    evidence.original_stem = text::fold_case(stem_of(original));
    evidence.camera_name = photo::dcf::parse_file_name(original);
    if (!evidence.camera_name) evidence.camera_name = photo::dcf::parse_file_name(name);
    return evidence;
}

Comparison compare_bodies(const Evidence& a, const Evidence& b) {
    const bool models = !a.model.empty() && !b.model.empty();
    if (models && a.model != b.model) return Comparison::differ;
    if (!a.serial.empty() && !b.serial.empty())
        return a.serial == b.serial ? Comparison::same : Comparison::differ;
    return models ? Comparison::same : Comparison::unknown;
}

Comparison compare_times(const Evidence& a, const Evidence& b) {
    if (!a.milliseconds || !b.milliseconds) return Comparison::unknown;
    const bool same = a.has_subseconds && b.has_subseconds ? a.milliseconds == b.milliseconds
                                                           : a.second() == b.second();
    return same ? Comparison::same : Comparison::differ;
}

Comparison compare_names(const Evidence& a, const Evidence& b) {
    if (a.best_stem() == b.best_stem()) return Comparison::same;
    if (!a.camera_name || !b.camera_name) return Comparison::unknown;
    // DCF 2.0: the same body writes ABC_0001 and _ABC0001, by colour space.
    if (without_underscores(a.camera_name->prefix) != without_underscores(b.camera_name->prefix))
        return Comparison::unknown;
    return a.camera_name->number == b.camera_name->number ? Comparison::same : Comparison::differ;
}

bool may_be_one_frame(const Evidence& a, const Evidence& b) {
    return compare_bodies(a, b) != Comparison::differ && compare_times(a, b) != Comparison::differ;
}

}  // namespace glassine::job
