#include "cli/manual/completion.h"

#include "glassine/base/finding.h"
#include "glassine/job/section.h"
#include "glassine/shelf/volume.h"

#include <algorithm>
#include <array>

namespace glassine::cli {
namespace {

struct Value {
    std::string_view name;
    Offer offer;
};

/// By the name a value has in help. Any other name is free text.
constexpr std::array values{Value{"FILE", Offer::files},         Value{"PATH", Offer::files},
                            Value{"FROM", Offer::files},         Value{"LIST", Offer::files},
                            Value{"WHAT", Offer::files},         Value{"DIR", Offer::folders},
                            Value{"DIR|FILE.zip", Offer::files}, Value{"DEST", Offer::folders},
                            Value{"BAG", Offer::folders},        Value{"JOB", Offer::folders},
                            Value{"VOLUME", Offer::folders},     Value{"KIND", Offer::words}};

bool is_called(const Argument& argument, std::string_view name) {
    return std::ranges::count(argument.names, name) > 0;
}

void add_pages(const Page& page, std::vector<const Page*>& out) {
    out.push_back(&page);
    for (const Page& below : page.commands)
        add_pages(below, out);
}

}  // namespace

Offer offer_for(const Argument& argument) {
    if (!argument.choices.empty() || is_called(argument, "--section")) return Offer::words;
    const auto at = std::ranges::find(values, argument.value, &Value::name);
    return at == values.end() ? Offer::nothing : at->offer;
}

std::vector<std::string> words_for(const Argument& argument) {
    std::vector<std::string> words = argument.choices;
    if (!words.empty()) return words;
    if (is_called(argument, "--accept"))
        for (const KindInfo& kind : finding_kinds())
            words.emplace_back(kind.word);
    if (is_called(argument, "--kind"))
        for (const auto kind :
             {shelf::VolumeKind::drive, shelf::VolumeKind::server, shelf::VolumeKind::offsite})
            words.emplace_back(shelf::word(kind));
    if (is_called(argument, "--section"))
        for (const job::Section section : job::all_sections)
            words.emplace_back(job::word(section));
    return words;
}

std::vector<const Page*> all_pages(const Page& program) {
    std::vector<const Page*> out;
    add_pages(program, out);
    return out;
}

std::vector<Argument> all_options(const Page& page) {
    std::vector<Argument> out = page.options;
    out.insert(out.end(), page.common.begin(), page.common.end());
    return out;
}

}  // namespace glassine::cli
