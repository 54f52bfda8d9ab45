#include "glassine/job/proxies.h"

#include "glassine/base/text.h"

#include <unordered_map>
#include <unordered_set>
#include <utility>

#include <fmt/format.h>

namespace glassine::job {
namespace {

/// A name in data/reject-proxies/ that nothing in the payload has yet, blind to case.
std::string free_name(const std::string& raw, std::unordered_set<std::string>& taken) {
    const std::string folder = std::string(payload_folder(Section::rejects)) + '/';
    std::string name = folder + std::string(stem_of(raw)) + ".jpg";
    // Two raws of one stem: the second proxy keeps the raw's extension in its name.
    for (int again = 1; !taken.insert(text::fold_case(name)).second; ++again)
        name = folder + raw + (again > 1 ? fmt::format("-{}", again) : "") + ".jpg";
    return name;
}

bool is_rejected_raw(const JobFile& file) {
    return file.section == Section::rejects && file.role == Role::raw;
}

}  // namespace

std::vector<std::size_t> raws_without_proxy(std::span<const JobFile> files) {
    const auto place = [](const JobFile& file) { return text::fold_case(stem_of(file.below)); };
    const auto stem = [](const JobFile& file) {
        return text::fold_case(stem_of(file_name_of(file.below)));
    };
    std::unordered_set<std::string> places;
    std::unordered_set<std::string> stems;
    std::unordered_map<std::string, int> raws_of_stem;
    for (const JobFile& file : files) {
        if (file.role == Role::proxy) {
            places.insert(place(file));
            stems.insert(stem(file));
        } else if (is_rejected_raw(file)) {
            ++raws_of_stem[stem(file)];
        }
    }
    std::vector<std::size_t> raws;
    for (std::size_t i = 0; i < files.size(); ++i) {
        if (!is_rejected_raw(files[i]) || places.contains(place(files[i]))) continue;
        // In another folder only when it cannot belong to another body's raw of that name.
        const bool elsewhere = stems.contains(stem(files[i])) && raws_of_stem[stem(files[i])] == 1;
        if (!elsewhere) raws.push_back(i);
    }
    return raws;
}

std::vector<ProxyToMake> proxies_to_make(std::span<const JobFile> files) {
    std::unordered_set<std::string> taken;
    for (const JobFile& file : files)
        if (file.is_payload()) taken.insert(text::fold_case(file.name));
    std::vector<ProxyToMake> made;
    for (const std::size_t raw : raws_without_proxy(files))
        made.push_back({raw, free_name(files[raw].below, taken)});
    return made;
}

}  // namespace glassine::job
