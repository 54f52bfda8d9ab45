#include "cli/program.h"
#include "cli/values.h"
#include "glassine/journeys/page_file.h"
#include "glassine/journeys/shelf.h"

#include <memory>
#include <optional>

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::cli {
namespace {

struct AddOptions {
    std::string volume;
    std::string label;
    std::string place;
    std::string kind;
    std::string in_service;
    std::string model;
    std::string serial;
    std::string purchase;
    bool change = false;
    bool new_identity = false;
};

shelf::VolumeKind kind_option(const std::string& value) {
    if (const auto kind = shelf::volume_kind(value)) return *kind;
    throw Error(Cause::usage, "read --kind", "", "there is no such kind of volume",
                "write drive, server or offsite");
}

/// A new volume has to be told apart from the others; of one that is there only what changes.
void want_details(const AddOptions& options) {
    if (options.change || options.new_identity) return;
    for (const auto& [name, value] :
         {std::pair("--label", &options.label), std::pair("--place", &options.place),
          std::pair("--kind", &options.kind)})
        if (value->empty())
            throw Error(Cause::usage, "add the volume", options.volume,
                        fmt::format("{} is missing", name),
                        "say what is written on it, where it stands and what it is: --label "
                        "SHELF-07 --place \"cupboard B\" --kind drive");
}

int run_add(Program& program, const AddOptions& options) {
    want_details(options);
    journeys::ShelfAddRequest request;
    request.volume = options.volume;
    request.change = options.change;
    request.new_identity = options.new_identity;
    shelf::VolumeDetails& details = request.details;
    details.label = options.label;
    details.place = options.place;
    if (!options.kind.empty()) details.kind = kind_option(options.kind);
    if (!options.in_service.empty())
        details.in_service = date_option("--in-service", options.in_service);
    details.model = options.model;
    details.serial = options.serial;
    details.purchase = options.purchase;
    request.keep_kind = options.kind.empty();
    return program.show(journeys::shelf_add(program.context(), request));
}

std::function<int(Program&)> declare_add(CLI::App& app) {
    const auto options = std::make_shared<AddOptions>();
    const auto text = [&](const char* name, std::string& into, const char* says, const char* form) {
        app.add_option(name, into, says)->option_text(form);
    };
    app.add_option("VOLUME", options->volume, "The folder at the drive's root")
        ->required()
        ->option_text(" ");
    text("--label", options->label, "What is written on it", "TEXT");
    text("--place", options->place, "Where it stands", "TEXT");
    text("--kind", options->kind, "drive, server or offsite", "KIND");
    text("--in-service", options->in_service, "Since when it is used (default: today)",
         "YYYY-MM-DD");
    text("--model", options->model, "Its model (default: what the system says)", "TEXT");
    text("--serial", options->serial, "Its serial number (default: what the system says)", "TEXT");
    text("--purchase", options->purchase,
         "The same words for drives bought together: they may fail together", "TEXT");
    app.add_flag("--change", options->change, "It has an identity: change what is given");
    app.add_flag("--new-identity", options->new_identity,
                 "It was cloned from another volume: make it one of its own");
    return [options](Program& program) { return run_add(program, *options); };
}

Command add_command() {
    return {"add",
            "give a drive, server folder or off-site place an identity",
            "Writes a small file, glassine-volume.json, at the volume's root: from then on the "
            "volume is recognised wherever it is mounted, and what is done to the bags on it is "
            "remembered, in the register and in a log on the volume itself.\n\n"
            "Place, model, serial and purchase tell which copies may be lost together.",
            {{"glassine shelf add /mnt/shelf-a --label SHELF-07 --place \"cupboard B\" --kind "
              "drive --purchase \"two, March 2025\"",
              "a new drive"},
             {"glassine shelf add /mnt/shelf-a --change --place \"bank, box 12\"",
              "it stands somewhere else now"}},
            declare_add};
}

Command list_command() {
    return {"list",
            "show all volumes, all bags and where their copies are",
            "Shows every volume and every bag that the register knows: where each copy is, when "
            "it was last proven, and how well the job is kept (levels of the NDSA for storage and "
            "for integrity, as far as a register can prove them).",
            {{"glassine shelf list", "show the whole shelf"},
             {"glassine shelf list --json > shelf.json", "keep it for a program"}},
            [](CLI::App&) {
                return [](Program& program) {
                    return program.show(journeys::shelf_overview(program.context()), true);
                };
            }};
}

Command scan_command() {
    return {
        "scan",
        "take what stands on drives into the register",
        "Reads volumes, tag files of bags and event logs at or below each path into the "
        "register, history included. The register can be rebuilt from the drives by this "
        "alone; scanning twice changes nothing. Pictures are not read: `glassine audit` "
        "proves them. Bags that are packed into one file are taken in as well; a compressed one "
        "has to be read to its end for it.\n\n"
        "A register that is damaged is put aside, never replaced. Exit code 1 means that "
        "something could not be taken in.",
        {{"glassine shelf scan /mnt/shelf-a", "take one drive in"},
         {"glassine shelf scan /mnt/shelf-a /mnt/shelf-b /srv/archive", "rebuild the register"}},
        [](CLI::App& app) -> std::function<int(Program&)> {
            const auto paths = std::make_shared<std::vector<std::string>>();
            app.add_option("PATH", *paths, "A drive, or a folder on one")
                ->required()
                ->option_text("...");
            return [paths](Program& program) {
                return program.show(
                    journeys::shelf_scan(program.context(), {paths->begin(), paths->end()}));
            };
        }};
}

Command find_command() {
    return {
        "find",
        "find jobs by words half remembered, and say which drive to fetch",
        "Finds jobs by client, date, description, job number, bag name or frame name. Case "
        "and accents do not matter; a word may be the beginning of another, or a letter or "
        "two off; months may be words. The best answer comes first.\n\n"
        "Exit code 1 means that nothing was found.",
        {{"glassine shelf find holt gala", "a job by client and description"},
         {"glassine shelf find june 2025", "jobs of one month"},
         {"glassine shelf find GLS_0042", "the job that a frame belongs to"}},
        [](CLI::App& app) -> std::function<int(Program&)> {
            const auto words = std::make_shared<std::vector<std::string>>();
            app.add_option("WORDS", *words, "What is remembered")->required()->option_text("...");
            return [words](Program& program) {
                return program.show(journeys::shelf_find(program.context(),
                                                         fmt::format("{}", fmt::join(*words, " "))),
                                    true);
            };
        }};
}

Command due_command() {
    return {"due",
            "list what to do next, with the command to type",
            "Lists, most urgent first: jobs without a whole copy, damaged copies, drives to read "
            "again after an error, jobs short of copies, audits overdue, drives to replace, "
            "server copies that may move or go, jobs whose time is over. What is due follows from "
            "the policy in the studio file.\n\n"
            "Exit code 1 means that something is due.",
            {{"glassine shelf due", "what to do next"}},
            [](CLI::App&) {
                return [](Program& program) {
                    return program.show(journeys::shelf_due(program.context()));
                };
            }};
}

int run_overview(Program& program, const std::string& html) {
    const journeys::Context context = program.context();
    const journeys::PageFile page(context.files, html);
    const report::ShelfOverview shelf = journeys::shelf_overview(context);
    page.write(report::overview_page(shelf));
    return program.show(report::shelf_page_result(shelf, html));
}

Command overview_command() {
    return {
        "overview",
        "write the whole shelf as one page: jobs, copies, drives, what is due",
        "Writes one page for screen and paper from the register: what is due, the jobs of "
        "every year with their proven copies and where these are, and the drives with what "
        "stands on them. The page can be searched and filtered; it needs no network and no "
        "Glassine, and without scripts all of it is still there to read. A file that exists "
        "is never replaced.",
        {{"glassine shelf overview --html shelf.html", "the shelf as it is today"}},
        [](CLI::App& app) -> std::function<int(Program&)> {
            const auto html = std::make_shared<std::string>();
            app.add_option("--html", *html, "The page to write")->required()->option_text("FILE");
            return [html](Program& program) { return run_overview(program, *html); };
        }};
}

struct LabelOptions {
    std::vector<std::string> volumes;
    std::string html;
    std::string svg;
};

int run_label(Program& program, const LabelOptions& options) {
    const journeys::Context context = program.context();
    std::optional<journeys::PageFile> page;
    std::optional<journeys::PageFile> drawing;
    if (!options.html.empty()) page.emplace(context.files, options.html);
    if (!options.svg.empty()) drawing.emplace(context.files, options.svg);
    report::ShelfLabelResult result = journeys::shelf_label(context, options.volumes);
    if (drawing && result.labels.size() != 1)
        throw Error(Cause::usage, "draw the labels", options.svg,
                    "a drawing holds one label, and several volumes are named",
                    "write a page with --html, or name one volume");
    if (page) page->write(report::label_sheet(result.labels, result.today));
    if (drawing) drawing->write(report::label_svg(result.labels.front(), result.today));
    result.html = options.html;
    result.svg = options.svg;
    return program.show(result, true);
}

std::function<int(Program&)> declare_label(CLI::App& app) {
    const auto options = std::make_shared<LabelOptions>();
    app.add_option("VOLUME", options->volumes, "Their labels, ids, or paths on them")
        ->required()
        ->option_text("...");
    app.add_option("--html", options->html,
                   "Write a page with these labels, eight to a sheet of A4")
        ->option_text("FILE");
    app.add_option("--svg", options->svg, "Write the label of one volume as a drawing (SVG)")
        ->option_text("FILE");
    return [options](Program& program) { return run_label(program, *options); };
}

Command label_command() {
    return {"label",
            "print labels for the cases of drives",
            "Shows what belongs on a drive's case: its name and place, since when it is in "
            "service, the day of its next audit, the jobs that stand on it with the beginnings "
            "of their seals, and its id, also as a square code (QR). With --html or --svg it is "
            "drawn to be printed, 100 by 70 mm; nothing on the drive itself changes, and it need "
            "not be connected.",
            {{"glassine shelf label SHELF-07", "what belongs on the label"},
             {"glassine shelf label SHELF-07 SHELF-08 --html labels.html",
              "two labels on a sheet to print"},
             {"glassine shelf label SHELF-07 --svg shelf-07.svg", "one label as a drawing"}},
            declare_label};
}

Command retire_command() {
    return {"retire",
            "take a volume out of service",
            "A drive that was lost, has died, was replaced or wiped is out of service: its copies "
            "do not count any more, and nothing on it falls due. Nothing on the drive itself is "
            "touched. `glassine shelf add VOLUME --change` brings it back.",
            {{"glassine shelf retire SHELF-07", "the drive is dead"}},
            [](CLI::App& app) -> std::function<int(Program&)> {
                const auto which = std::make_shared<std::string>();
                app.add_option("VOLUME", *which, "Its label, its id, or a path on it")
                    ->required()
                    ->option_text(" ");
                return [which](Program& program) {
                    return program.show(journeys::shelf_retire(program.context(), *which));
                };
            }};
}

}  // namespace

Command shelf_command() {
    return {"shelf",
            "know which copy is where, and what is due",
            "The shelf is all volumes that carry copies: drives, server folders, off-site places. "
            "The register remembers what stands on them, offline; the volumes themselves carry "
            "the same history.",
            {},
            nullptr,
            {add_command(), list_command(), scan_command(), find_command(), due_command(),
             shelf_dates_command(), overview_command(), label_command(), retire_command()}};
}

}  // namespace glassine::cli
