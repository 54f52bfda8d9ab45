#include "cli/program.h"
#include "cli/values.h"
#include "glassine/journeys/shelf_dates.h"

#include <memory>

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::cli {
namespace {

std::function<int(Program&)> declare_dates(CLI::App& app) {
    struct DatesOptions {
        std::vector<std::string> job;
        std::string promised;
        std::string keep_until;
    };
    const auto options = std::make_shared<DatesOptions>();
    app.add_option("JOB", options->job,
                   "Its bag's name, its number, or words that only it answers to")
        ->required()
        ->option_text("...");
    app.add_option("--promised", options->promised,
                   "Until when the client was told that the pictures are kept")
        ->option_text("YYYY-MM-DD");
    app.add_option("--keep-until", options->keep_until, "Until when the studio means to keep them")
        ->option_text("YYYY-MM-DD");
    return [options](Program& program) {
        const KeepingDates dates = keeping_dates(options->promised, options->keep_until);
        return program.show(journeys::shelf_dates(
            program.context(),
            {fmt::format("{}", fmt::join(options->job, " ")), dates.promised, dates.keep}));
    };
}

}  // namespace

Command shelf_dates_command() {
    return {
        "dates",
        "say until when a job is promised and to be kept",
        "Every job has two dates: until when the client was told that the pictures are kept, "
        "and until when the studio means to keep them. They are counted from the shoot by the "
        "studio file's policy; `closeout --promised` and `--keep-until` give a job dates of "
        "its own when it is sealed, and this command later on. The last word holds.\n\n"
        "The dates are written into the register and into the logs of all connected volumes, "
        "so that a rebuilt register knows them; bags are not touched. `shelf due` tells when "
        "both are over.",
        {{"glassine shelf dates holt gala --keep-until 2040-12-31", "the studio means to keep it"},
         {"glassine shelf dates 2025-06-14_holt_gala --promised 2030-06-14 --keep-until "
          "2035-06-14",
          "the client was told five years"}},
        declare_dates};
}

}  // namespace glassine::cli
