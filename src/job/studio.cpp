#include "glassine/job/studio.h"

#include "folder_pattern.h"
#include "glassine/base/error.h"
#include "glassine/base/text.h"
#include "glassine/io/files.h"
#include "toml_table.h"

#include <algorithm>
#include <charconv>
#include <utility>

#include <fmt/format.h>

namespace glassine::job {
namespace {

constexpr std::uint64_t largest_file = 1u << 20;

/// A number from the front of `text`, which is moved behind it.
template <typename Number>
std::optional<Number> take_number(std::string_view& text) {
    text = text::trim(text);
    Number value{};
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{}) return std::nullopt;
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    return value;
}

void read_period(TomlTable& table, std::string_view key, Period& into) {
    const std::string* text = table.text(key);
    if (!text) return;
    const std::optional<Period> period = parse_period(*text);
    if (!period) {
        table.refuse(*table.node(key), key, "must be a length of time",
                     "write it like \"1 year\", \"18 months\" or \"90 days\"");
    }
    into = *period;
}

/// "8x10 in", "20 x 30 cm": inches, the shorter side first.
std::optional<std::pair<double, double>> parse_print_size(std::string_view text) {
    const auto width = take_number<double>(text);
    text = text::trim(text);
    if (!width || text.empty() || (text.front() != 'x' && text.front() != 'X')) return std::nullopt;
    text.remove_prefix(1);
    const auto height = take_number<double>(text);
    const std::string unit = text::ascii_lower(text::trim(text));
    const double inch = unit == "in" ? 1 : unit == "cm" ? 2.54 : unit == "mm" ? 25.4 : 0;
    if (!height || inch == 0) return std::nullopt;
    // Also refuses what is not a number at all.
    if (!(*width / inch >= 0.1 && *width / inch <= 1000)) return std::nullopt;
    if (!(*height / inch >= 0.1 && *height / inch <= 1000)) return std::nullopt;
    return std::minmax(*width / inch, *height / inch);
}

void read_print_size(TomlTable& table, Limits& limits) {
    const std::string* text = table.text("smallest");
    if (!text) return;
    const auto size = parse_print_size(*text);
    if (!size) {
        table.refuse(*table.node("smallest"), "smallest", "must be the size of a print",
                     "write it like \"8x10 in\" or \"20x30 cm\"");
    }
    std::tie(limits.print_width, limits.print_height) = *size;
}

void read_recovery(TomlTable& table, unsigned& percent) {
    const toml::node* at = table.node("recovery");
    if (at && at->is_string() && at->as_string()->get() == "none")
        percent = 0;
    else
        table.read("recovery", percent, 0, 100);
}

/// Section folders lie below the job folder, each in a place of its own.
void read_folders(TomlTable& table, Studio& studio) {
    for (const Section section : all_sections) {
        std::string& folder = studio.folders[index(section)];
        table.read(word(section), folder);
        const toml::node* at = table.node(word(section));
        if (!at) continue;
        const io::Path path = io::Path(folder).lexically_normal();
        const bool climbs = path.is_absolute() || (!path.empty() && *path.begin() == "..");
        if (folder.empty() || climbs || folder.find('\0') != std::string::npos) {
            table.refuse(*at, word(section), "must be a folder inside the job folder",
                         "write it like \"originals\" or \"exports/print\"");
        }
        folder = (path.has_filename() ? path : path.parent_path()).generic_string();
    }
    for (const Section a : all_sections) {
        for (const Section b : all_sections) {
            if (a < b && studio.folders[index(a)] == studio.folders[index(b)]) {
                const toml::node* at = table.node(word(b));
                table.refuse(at ? *at : *table.node(word(a)), word(b),
                             "is the same folder as " + std::string(word(a)),
                             "give each section a folder of its own");
            }
        }
    }
}

void read_policy(TomlTable& table, Policy& policy) {
    table.read("copies", policy.copies, 1, 20);
    table.read("off_site", policy.off_site, 0, policy.copies);
    policy.volumes = std::min(policy.volumes, policy.copies);
    table.read("volumes", policy.volumes, 1, policy.copies);
    table.read("media_kinds", policy.media_kinds, 1, 3);
    read_period(table, "audit_every", policy.audit_every);
    read_period(table, "server_keeps", policy.server_keeps);
    read_period(table, "promised", policy.promised);
    read_period(table, "keep", policy.keep);
    read_period(table, "drive_age", policy.drive_age);
    policy.clear_copies = std::min(policy.clear_copies, policy.copies);
    table.read("clear_copies", policy.clear_copies, 1, 20);
}

void read_date_order(TomlTable& table, DateOrder& order) {
    const std::string* text = table.text("dates");
    if (!text) return;
    if (*text == "year first")
        order = DateOrder::year_first;
    else if (*text == "day first")
        order = DateOrder::day_first;
    else if (*text == "month first")
        order = DateOrder::month_first;
    else
        table.refuse(*table.node("dates"), "dates", "must be an order of day, month and year",
                     "write \"year first\", \"day first\" or \"month first\"");
}

/// How old folders that were never bags are read.
void read_adopt(TomlTable& table, AdoptRules& rules) {
    table.read("patterns", rules.patterns);
    for (const std::string& pattern : rules.patterns)
        if (const std::string why = pattern_problem(pattern); !why.empty())
            table.refuse(*table.node("patterns"), "patterns",
                         fmt::format("has the pattern \"{}\": {}", pattern, why),
                         "write it like \"{date} {clients} - {about}\"");
    read_date_order(table, rules.date_order);
    table.read("occasions", rules.occasions);
    for (const Section section : all_sections)
        table.read(word(section), rules.sections[index(section)]);
}

Studio interpret(const toml::table& file, const std::string& path) {
    Studio studio;
    TomlTable top(&file, {}, path);

    TomlTable about = top.table("studio");
    about.read("name", studio.name);
    about.read("contact_name", studio.contact_name);
    about.read("contact_email", studio.contact_email);
    about.read("organisation", studio.organisation);
    about.read("rights", studio.rights);
    about.read("clears_media", studio.clears_media);
    if (studio.organisation.empty()) studio.organisation = studio.name;

    TomlTable sections = top.table("sections");
    read_folders(sections, studio);

    TomlTable closeout = top.table("closeout");
    closeout.read("destinations", studio.destinations);
    read_recovery(closeout, studio.recovery_percent);

    TomlTable web = top.table("web");
    web.read("long_edge", studio.limits.web_long_edge, 0, 100000);

    TomlTable print = top.table("print");
    read_print_size(print, studio.limits);
    print.read("ppi", studio.limits.print_ppi, 0, 10000);

    TomlTable policy = top.table("policy");
    read_policy(policy, studio.policy);

    TomlTable object_store = top.table("object_store");
    object_store.read_all(studio.object_store);

    TomlTable adopt = top.table("adopt");
    read_adopt(adopt, studio.adopt);

    for (const TomlTable* table :
         {&top, &about, &sections, &closeout, &web, &print, &policy, &adopt})
        table->done();
    return studio;
}

}  // namespace

std::optional<Period> parse_period(std::string_view text) {
    const auto number = take_number<unsigned>(text);
    if (!number || *number < 1 || *number > 1200) return std::nullopt;
    const std::string unit = text::ascii_lower(text::trim(text));
    const auto is = [&](std::string_view singular) {
        return unit == singular || unit == std::string(singular) + 's';
    };
    if (is("year")) return Period{*number * 12, 0};
    if (is("month")) return Period{*number, 0};
    if (is("week")) return Period{0, *number * 7};
    if (is("day")) return Period{0, *number};
    return std::nullopt;
}

Studio parse_studio(std::string_view text, const std::string& path) {
    try {
        return interpret(toml::parse(text, path), path);
    } catch (const toml::parse_error& wrong) {
        throw Error(Cause::malformed, "read the studio file", path,
                    place(wrong.source()) + ": " + std::string(wrong.description()),
                    "correct that line; docs/studio-example.toml shows how each key is written");
    }
}

Studio read_studio(io::FileSystem& files, const io::Path& path) {
    return parse_studio(io::read_small_file(files, path, largest_file), path.string());
}

}  // namespace glassine::job
