#include "cli/program.h"
#include "cli/values.h"
#include "glassine/base/text.h"
#include "glassine/io/files.h"
#include "glassine/journeys/restore.h"

#include <memory>

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::cli {
namespace {

struct RestoreOptions {
    std::vector<std::string> what;
    std::string to;
    std::vector<std::string> from;
    std::vector<std::string> sections;
    std::string frames;
    std::string split;
    bool gallery = false;
};

void read_sections(const RestoreOptions& options, journeys::RestoreRequest& request) {
    for (const std::string& word : options.sections) {
        if (word == "all") {
            request.all_sections = true;
        } else if (const auto section = job::section(word)) {
            request.sections.insert(*section);
        } else {
            throw Error(Cause::usage, "read --section", "",
                        "\"" + text::for_terminal(word) + "\" is no section",
                        "write originals, print, web, rejects or all");
        }
    }
}

job::FrameChoice frames_of(const journeys::Context& context, const std::string& list) {
    if (!list.starts_with("@")) return job::FrameChoice::parse(list);
    return job::FrameChoice::parse(io::read_small_file(context.files, list.substr(1)));
}

int run_restore(Program& program, const RestoreOptions& options) {
    const journeys::Context context = program.context();
    journeys::RestoreRequest request;
    request.what = fmt::format("{}", fmt::join(options.what, " "));
    request.from.assign(options.from.begin(), options.from.end());
    request.to = options.to;
    read_sections(options, request);
    if (!options.frames.empty()) request.frames = frames_of(context, options.frames);
    request.split = options.split.empty() ? 0 : size_option("--split", options.split);
    request.gallery = options.gallery;
    return program.show(journeys::restore(context, request));
}

std::function<int(Program&)> declare_restore(CLI::App& app) {
    const auto options = std::make_shared<RestoreOptions>();
    app.add_option("WHAT", options->what, "A bag's folder or archive, or words to find the job by")
        ->required()
        ->option_text(" ");
    app.add_option("--to", options->to, "The folder or the ZIP file to hand out into")
        ->required()
        ->option_text("DIR|FILE.zip");
    app.add_option("--from", options->from, "Another copy of the same bag; once for each")
        ->option_text("BAG");
    app.add_option("--section", options->sections,
                   "originals, print, web, rejects or all; once for each (default: print and web)")
        ->option_text("NAME");
    app.add_option("--frames", options->frames,
                   "Only these: numbers, ranges, names of frames or files, with commas between; or "
                   "@FILE, a text with one on each line")
        ->option_text("LIST");
    app.add_option("--split", options->split,
                   "Several ZIP files of at most this size (2GB, 700MB), each opens by itself")
        ->option_text("SIZE");
    app.add_flag("--gallery", options->gallery, "Add index.html, a gallery with thumbnails");
    return [options](Program& program) { return run_restore(program, *options); };
}

}  // namespace

Command restore_command() {
    return {
        "restore",
        "hand out the pictures of a job",
        "Hands pictures out of a bag into a folder or a ZIP file. Each is verified against the "
        "bag's manifest in the very read that hands it out, and arrives whole or not at all. "
        "What is damaged comes from another copy, then from the bag's recovery data. Nothing "
        "that stands at the target is replaced; a file that is there already and is the same "
        "counts as handed out. The bag itself is only read.\n\n"
        "A bag may be packed into one file: of a .tar or .zip that is not compressed only what is "
        "asked for is read, a .tar.gz or .tar.zst is read from its beginning.\n\n"
        "Words that are no path are looked for on the shelf, as `shelf find` does: clients, "
        "occasion, date, job number, frames. If one job answers, its best copy on a connected "
        "drive is read; if several do, they are listed to choose from; if no copy is connected, "
        "the drive to fetch is named, and where it lies. Other connected copies help where "
        "that one is damaged.",
        {{"glassine restore /mnt/shelf-a/2025-06-14_holt_gala --to /srv/out/holt",
          "hand out prints and web pictures"},
         {"glassine restore holt gala --to /srv/out/holt", "the same, found on the shelf by words"},
         {"glassine restore /mnt/shelf-a/2025-06-14_holt_gala --to holt.zip --section web "
          "--gallery",
          "the web gallery as a ZIP file, with a page to look at it"},
         {"glassine restore /mnt/shelf-a/2025-06-14_holt_gala --to out --section originals "
          "--frames 448,450-462",
          "the originals of some frames"}},
        declare_restore};
}

}  // namespace glassine::cli
