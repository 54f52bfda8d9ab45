#include "cli/program.h"
#include "cli/section_options.h"
#include "cli/values.h"
#include "glassine/journeys/certificate.h"
#include "glassine/journeys/page_file.h"

#include <memory>
#include <optional>

#include <CLI/CLI.hpp>

namespace glassine::cli {
namespace {

struct CloseoutOptions {
    std::string job;
    std::vector<std::string> to;
    std::vector<std::string> clients;
    std::string date;
    std::string about;
    std::string job_number;
    std::string promised;
    std::string keep_until;
    std::string recovery;
    std::string serialize;
    bool keep_folder = false;
    std::vector<std::string> accept;
    bool dry_run = false;
    std::string certificate;
    std::string rate;
    SectionOptions sections;
};

int run_closeout(Program& program, const CloseoutOptions& options) {
    if (!options.rate.empty()) program.store_rate = size_option("--rate", options.rate);
    const journeys::Context context = program.context();
    journeys::CloseoutRequest request;
    request.job = options.job;
    request.destinations = options.to.empty() ? context.studio.destinations : options.to;
    if (request.destinations.empty())
        throw Error(Cause::usage, "close out the job", options.job, "no destination is named",
                    "name one or more drives with --to, or set `destinations` in the studio file");
    request.clients = options.clients;
    request.date = date_option("--date", options.date);
    request.about = options.about;
    request.job_number = options.job_number;
    const KeepingDates dates = keeping_dates(options.promised, options.keep_until);
    request.promised_until = dates.promised;
    request.keep_until = dates.keep;
    if (dates.promised.value_or(request.date) < request.date ||
        dates.keep.value_or(request.date) < request.date)
        throw Error(Cause::usage, "read --promised and --keep-until", "",
                    "a day comes before the shoot on " + iso_date(request.date),
                    "name the day until which the pictures are kept");
    request.recovery_percent = options.recovery.empty()
                                   ? context.studio.recovery_percent
                                   : percent_option("--recovery", options.recovery);
    request.accept = finding_kinds_option("--accept", options.accept);
    if (!options.serialize.empty())
        request.serialize =
            options.serialize == "zip" ? bagit::ArchiveForm::zip : bagit::ArchiveForm::tar;
    request.keep_folder = options.keep_folder;
    request.dry_run = options.dry_run;
    request.sections = options.sections.folders();
    std::optional<journeys::PageFile> page;
    if (!options.certificate.empty() && !options.dry_run)
        page.emplace(context.files, options.certificate);
    const report::CloseoutResult result = journeys::closeout(context, request);
    const int code = program.show(result);
    const std::string certificate = page ? journeys::certificate(context, request, result) : "";
    if (!certificate.empty()) page->write(certificate);
    return code;
}

std::function<int(Program&)> declare_closeout(CLI::App& app) {
    const auto options = std::make_shared<CloseoutOptions>();
    app.add_option("JOB", options->job, "The job's folder")->required()->option_text(" ");
    app.add_option("--to", options->to,
                   "A folder on the drive to write to, or s3://BUCKET/FOLDER; once for each copy")
        ->option_text("DEST");
    app.add_option("--client", options->clients, "A client's name; once for each")
        ->required()
        ->option_text("NAME");
    app.add_option("--date", options->date, "The day of the shoot")
        ->required()
        ->option_text("YYYY-MM-DD");
    app.add_option("--about", options->about, "What it was, in a few words")
        ->required()
        ->option_text("TEXT");
    app.add_option("--job-number", options->job_number, "The studio's own number for the job")
        ->option_text("ID");
    app.add_option("--promised", options->promised,
                   "Until when the client was told that the pictures are kept (default: counted "
                   "from the shoot by the studio file's policy)")
        ->option_text("YYYY-MM-DD");
    app.add_option("--keep-until", options->keep_until,
                   "Until when the studio means to keep them (default: by the policy as well)")
        ->option_text("YYYY-MM-DD");
    app.add_option(
           "--recovery", options->recovery,
           "Recovery data in percent of the payload, or none (default: the studio file's, else 5)")
        ->option_text("PERCENT");
    CLI::Option* serialize =
        app.add_option("--serialize", options->serialize,
                       "Write every copy as one archive file, tar or zip, instead of a folder")
            ->check(CLI::IsMember({"tar", "zip"}))
            ->option_text("FORM");
    app.add_flag("--keep-folder", options->keep_folder,
                 "With --serialize: write the folder as well, beside the archive file")
        ->needs(serialize);
    app.add_option("--accept", options->accept,
                   "Seal although findings of this kind block; noted in the bag's events")
        ->option_text("KIND");
    app.add_flag("--dry-run", options->dry_run, "Tell all that would be done, and write nothing");
    app.add_option("--certificate", options->certificate,
                   "Also write a page for the job's paper file: what was sealed, where, and how "
                   "to check it without Glassine")
        ->option_text("FILE");
    app.add_option("--rate", options->rate,
                   "Send no more than this in a second to an object store (2MB, 500kB)")
        ->option_text("SIZE");
    options->sections.declare(app);
    return [options](Program& program) { return run_closeout(program, *options); };
}

}  // namespace

Command closeout_command() {
    return {
        "closeout",
        "seal a delivered job on one or more drives",
        "Packs kept originals, print exports, web exports and the JPEGs of rejected frames "
        "into one sealed bag (BagIt, "
        "RFC 8493) on every destination, from a single read of the job. Each copy is read back "
        "from its medium and "
        "compared before it gets its name. The job itself is never changed.\n\n"
        "With --serialize each copy is one file, NAME.tar or NAME.zip, that holds the same bag, "
        "uncompressed: for services that take files, not folders. `glassine audit` and "
        "`glassine inspect` read it as it is, and the shelf counts it as a copy; damage in it "
        "cannot be mended in place.\n\n"
        "A destination may be a place in an object store, s3://BUCKET/FOLDER, set up in the "
        "studio file's [object_store]. It is sent to while the drives are written; what a slow "
        "line has no time for then is sent from the sealed copy on a drive afterwards. The bag is "
        "there when its bagit.txt is, which comes last; an interrupted upload goes on where it "
        "stopped. With --serialize the archive file on a drive is sent once it is sealed.\n\n"
        "The bag's name is made of date, clients and description. A bag or folder of that name "
        "is never replaced.",
        {{"glassine closeout /jobs/harbour-gala --to /mnt/shelf-a --to /mnt/shelf-b --client "
          "\"Maren Holt\" --client \"Tomas "
          "Brandvik\" --date 2025-06-14 --about \"harbour gala\"",
          "seal the job on two drives"},
         {"glassine closeout /jobs/harbour-gala --to /mnt/upload --serialize tar --client Holt "
          "--date 2025-06-14 --about gala",
          "seal the job in one file"},
         {"glassine closeout /jobs/harbour-gala --to /mnt/shelf-a --client Holt --date "
          "2025-06-14 --about gala --dry-run",
          "tell what would be done"}},
        declare_closeout};
}

}  // namespace glassine::cli
