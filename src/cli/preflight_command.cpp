#include "cli/program.h"
#include "cli/section_options.h"
#include "cli/values.h"
#include "glassine/journeys/preflight.h"

#include <memory>

#include <CLI/CLI.hpp>

namespace glassine::cli {
namespace {

std::function<int(Program&)> declare_preflight(CLI::App& app) {
    struct PreflightOptions {
        std::string job;
        std::string date;
        SectionOptions sections;
    };
    const auto options = std::make_shared<PreflightOptions>();
    app.add_option("JOB", options->job, "The job's folder")->required()->option_text(" ");
    app.add_option("--date", options->date,
                   "The day of the shoot, to compare the capture times with")
        ->option_text("YYYY-MM-DD");
    options->sections.declare(app);
    return [options](Program& program) {
        journeys::PreflightRequest request;
        request.job = options->job;
        if (!options->date.empty()) request.date = date_option("--date", options->date);
        request.sections = options->sections.folders();
        return program.show(journeys::preflight(program.context(), request));
    };
}

}  // namespace

Command preflight_command() {
    return {"preflight",
            "look a job folder over before closing it out",
            "Decodes every picture to its last line and accounts for every frame that was shot: by "
            "camera body, kept, "
            "rejected, missing numbers, broken files. Tells what a close-out would stop at: broken "
            "pictures, delivered "
            "pictures without an original, rejected raws of which no JPEG can be made, files "
            "outside the sections. Changes "
            "nothing.\n\n"
            "Exit code 1 means that something is in the way of closing the job out.",
            {{"glassine preflight /jobs/harbour-gala", "look a job over"},
             {"glassine preflight /jobs/harbour-gala --date 2025-06-14",
              "compare capture times with the day as well"}},
            declare_preflight};
}

}  // namespace glassine::cli
