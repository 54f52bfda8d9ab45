#include "cli/program.h"
#include "cli/values.h"
#include "glassine/io/files.h"
#include "glassine/journeys/migrate.h"

#include <memory>

#include <CLI/CLI.hpp>

namespace glassine::cli {
namespace {

struct MigrateOptions {
    std::vector<std::string> sources;
    std::string to;
    std::vector<std::string> from;
    bool upgrade = false;
    bool adopt = false;
    std::vector<std::string> accept;
    std::string recovery;
    std::string html;
    std::string budget;
    std::string rate;
};

int run_migrate(Program& program, const MigrateOptions& options) {
    if (!options.rate.empty()) program.store_rate = size_option("--rate", options.rate);
    const journeys::Context context = program.context();
    if (!options.html.empty() && context.files.find(options.html))
        throw Error(Cause::exists, "write the statement", options.html, "it is there already",
                    "nothing is ever replaced: name another file");
    journeys::MigrateRequest request;
    request.sources.assign(options.sources.begin(), options.sources.end());
    request.to = options.to;
    request.from.assign(options.from.begin(), options.from.end());
    if (!options.budget.empty()) request.budget = duration_option("--budget", options.budget);
    request.upgrade = options.upgrade;
    request.adopt = options.adopt;
    request.accept = finding_kinds_option("--accept", options.accept);
    request.recovery_percent = options.recovery.empty()
                                   ? context.studio.recovery_percent
                                   : percent_option("--recovery", options.recovery);
    const report::MigrateResult result = journeys::migrate(context, request);
    if (!options.html.empty())
        io::write_new_file(context.files, options.html, report::to_html(result));
    return program.show(result);
}

std::function<int(Program&)> declare_migrate(CLI::App& app) {
    const auto options = std::make_shared<MigrateOptions>();
    app.add_option("FROM", options->sources, "A bag, or a folder or drive of bags; several")
        ->required()
        ->option_text(" ");
    app.add_option("--to", options->to,
                   "A folder on the new drive, or s3://BUCKET/FOLDER in an object store")
        ->required()
        ->option_text("DEST");
    app.add_option("--from", options->from,
                   "Another drive or bag to heal from, found by the bag's name; once for each")
        ->option_text("DIR");
    app.add_flag(
        "--upgrade", options->upgrade,
        "Make new BagIt 1.0 bags of old ones, with SHA-512, recovery data and photo index");
    app.add_flag("--adopt", options->adopt,
                 "Also close out folders that were never bags, as far as their names can be read");
    app.add_option("--accept", options->accept,
                   "With --adopt: seal although findings of this kind block; once for each")
        ->option_text("KIND");
    app.add_option("--recovery", options->recovery,
                   "For new bags: recovery data in percent of the payload, or none (default: the "
                   "studio file's, else 5)")
        ->option_text("PERCENT");
    app.add_option("--budget", options->budget,
                   "Begin no further bag after this time (90m, 8h); the one under way is finished")
        ->option_text("TIME");
    app.add_option("--rate", options->rate,
                   "Send no more than this in a second to an object store (2MB, 500kB)")
        ->option_text("SIZE");
    app.add_option("--html", options->html, "Also write the statement as a page")
        ->option_text("FILE");
    return [options](Program& program) { return run_migrate(program, *options); };
}

}  // namespace

Command migrate_command() {
    return {
        "migrate",
        "carry archives to a new drive",
        "Carries every bag below the old drive's folders to the new drive, bit for bit and with "
        "its times, whatever version it is, and whether it is a folder or packed into one file. "
        "One read proves the old bag and writes the copy; "
        "the copy is read back from its medium before it gets its name. What is damaged on the "
        "old drive is put right on the way from the bag's recovery data or another copy; what "
        "cannot be is carried as it is and told. A damaged archive becomes a whole folder that "
        "way, "
        "unless a whole archive of that name is at hand. Bags that stand at the destination "
        "already are "
        "read and passed over, so an interrupted migration goes on where it stopped; with "
        "--budget it stops by itself. Bags at risk and those that were not proven for longest come "
        "first.\n\n"
        "At the end stands a statement for each old drive: what it held, and whether all of it "
        "is accounted for. The old drive is only read.\n\n"
        "With --upgrade, bags of older versions or with weaker digests become new BagIt 1.0 bags "
        "with "
        "SHA-512, recovery data and a photo index; their previous tag files are kept in previous/. "
        "The old digests are proven in the read that computes the new ones. A bag that is packed "
        "into one file becomes a folder by it, unless it is compressed. A damaged bag is carried "
        "and not upgraded.\n\n"
        "With --adopt, folders that were never bags are closed out as well: date, clients and "
        "occasion are read from the folder's name, sections from the names of its subfolders, "
        "as the studio file says and by what is usual; checksum lists found beside the files are "
        "proven and kept. A folder that cannot be placed as a whole is left as it is, and every "
        "file of it is listed for a person to decide.",
        {{"glassine migrate /mnt/old --to /mnt/new", "carry a drive of bags to another"},
         {"glassine migrate /mnt/old --to /mnt/new --from /mnt/shelf-b",
          "with the help of the other copies, where the old drive is damaged"},
         {"glassine migrate /mnt/old --to /mnt/new --adopt --html statement.html",
          "plain old folders too, and the statement as a page"},
         {"glassine migrate /mnt/old --to /mnt/new --budget 8h", "as much as a night allows"},
         {"glassine migrate /mnt/old --to /mnt/new --upgrade", "make new bags of the old ones"}},
        declare_migrate};
}

}  // namespace glassine::cli
