#include "cli/program.h"
#include "glassine/journeys/mend.h"

#include <memory>

#include <CLI/CLI.hpp>

namespace glassine::cli {
namespace {

std::function<int(Program&)> declare_mend(CLI::App& app) {
    struct MendOptions {
        std::string bag;
        std::vector<std::string> from;
        bool dry_run = false;
    };
    const auto options = std::make_shared<MendOptions>();
    app.add_option("BAG", options->bag, "The folder of a bag")->required()->option_text(" ");
    app.add_option("--from", options->from,
                   "Another copy of the same bag, whole or damaged, a folder or an archive that is "
                   "not compressed; once for each (default: the copies that the register knows on "
                   "connected volumes)")
        ->option_text("BAG");
    app.add_flag("--dry-run", options->dry_run, "Tell what can be healed, and write nothing");
    return [options](Program& program) {
        journeys::MendRequest request;
        request.bag = options->bag;
        request.from.assign(options->from.begin(), options->from.end());
        request.dry_run = options->dry_run;
        return program.show(journeys::mend(program.context(), request));
    };
}

}  // namespace

Command mend_command() {
    return {
        "mend",
        "heal what is damaged in a bag",
        "Heals flipped bits, unreadable or overwritten sectors, truncated and lost files: from the "
        "bag's own recovery "
        "data, then from other copies, also when every copy is damaged in a different place. A "
        "healed file takes its "
        "place only when its digest is proven; the damaged one is kept in a quarantine folder "
        "beside the bag, with a log of what had changed (healing.txt). What "
        "cannot be healed stays as it is and is listed.\n\n"
        "A drive that damages files is dying: carry its bags to another drive.",
        {{"glassine mend /mnt/shelf-b/2025-06-14_holt_gala --dry-run", "see what could be healed"},
         {"glassine mend /mnt/shelf-b/2025-06-14_holt_gala --from "
          "/mnt/shelf-a/2025-06-14_holt_gala",
          "heal with the help of another copy"}},
        declare_mend};
}

}  // namespace glassine::cli
