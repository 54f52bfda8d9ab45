#include "cli/program.h"
#include "cli/values.h"
#include "glassine/journeys/clear.h"

#include <memory>

#include <CLI/CLI.hpp>

namespace glassine::cli {
namespace {

std::function<int(Program&)> declare_clear(CLI::App& app) {
    struct ClearOptions {
        std::string path;
        std::vector<std::string> against;
        std::string copies;
    };
    const auto options = std::make_shared<ClearOptions>();
    app.add_option("PATH", options->path, "The card, disk, server folder or drive")
        ->required()
        ->option_text(" ");
    app.add_option("--against", options->against,
                   "A plain folder that holds its content; read as well; once for each")
        ->option_text("DIR");
    app.add_option(
           "--copies", options->copies,
           "How many copies on different volumes every file needs (default: the studio file's, "
           "else 2)")
        ->option_text("N");
    return [options](Program& program) {
        journeys::ClearRequest request;
        request.path = options->path;
        request.against.assign(options->against.begin(), options->against.end());
        if (!options->copies.empty())
            request.copies = number_option("--copies", options->copies, 1, 20);
        return program.show(journeys::clear(program.context(), request));
    };
}

}  // namespace

Command clear_command() {
    return {
        "clear",
        "ask whether a card, disk or drive may be wiped",
        "Reads every file on it and looks up where its content is held: in copies of sealed bags "
        "that were proven within the audit interval, on other volumes than this one. A rejected "
        "raw may go when the JPEG that stands for it is held. With --against the content may also "
        "lie in plain folders, which are read now: for clearing cards after the first transfer.\n\n"
        "Exit code 0 means: every file is held often enough. Else every file that is not is "
        "listed. Nothing is ever deleted. The clearance is signed and recorded when the studio "
        "file names you among those who clear media.",
        {{"glassine clear /media/card-1", "may this card be formatted?"},
         {"glassine clear /media/card-1 --against /srv/ingest/card-1 --against /mnt/backup/card-1",
          "after the first transfer, before anything is sealed"},
         {"glassine clear /mnt/shelf-old --copies 3", "may this old drive go?"}},
        declare_clear};
}

}  // namespace glassine::cli
