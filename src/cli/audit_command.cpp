#include "cli/program.h"
#include "cli/values.h"
#include "glassine/journeys/audit.h"
#include "glassine/journeys/page_file.h"

#include <memory>
#include <optional>

#include <CLI/CLI.hpp>

namespace glassine::cli {
namespace {

struct AuditOptions {
    std::vector<std::string> paths;
    bool quick = false;
    std::string budget;
    std::string html;
    std::string profile;
};

int run_audit(Program& program, const AuditOptions& options) {
    const journeys::Context context = program.context();
    journeys::AuditRequest request;
    request.paths.assign(options.paths.begin(), options.paths.end());
    request.quick = options.quick;
    request.profile = options.profile;
    if (!options.budget.empty()) {
        const Budget budget = budget_option("--budget", options.budget);
        request.budget = budget.time;
        request.byte_budget = budget.bytes;
    }
    report::AuditNotes notes;
    std::optional<journeys::PageFile> page;
    if (!options.html.empty()) {
        page.emplace(context.files, options.html);
        request.notes = &notes;
    }
    const report::AuditResult result = journeys::audit(context, request);
    const int code = program.show(result);
    if (page) page->write(report::audit_page(result, notes));
    return code;
}

std::function<int(Program&)> declare_audit(CLI::App& app) {
    const auto options = std::make_shared<AuditOptions>();
    app.add_option("PATH", options->paths,
                   "A bag, a bag packed into one file, or a folder or drive of bags")
        ->required()
        ->option_text("...");
    app.add_flag("--quick", options->quick,
                 "Only names, sizes and structure: fast, but proves nothing");
    app.add_option("--budget", options->budget,
                   "Stop after this time (90m, 2h, 1h30m), or before more than this would be read "
                   "(50GB); the next audit goes on there")
        ->option_text("TIME|SIZE");
    app.add_option("--profile", options->profile,
                   "A BagIt profile (a JSON file) that every bag has to keep to as well")
        ->option_text("FILE");
    app.add_option("--html", options->html,
                   "Also write the result as a page to look at or print, with damaged pictures")
        ->option_text("FILE");
    return [options](Program& program) { return run_audit(program, *options); };
}

std::function<int(Program&)> declare_inspect(CLI::App& app) {
    const auto bag = std::make_shared<std::string>();
    app.add_option("BAG", *bag, "The folder of a bag, or the archive file that it is packed in")
        ->required()
        ->option_text(" ");
    return [bag](Program& program) {
        return program.show(journeys::inspect(program.context(), *bag));
    };
}

}  // namespace

Command audit_command() {
    return {"audit",
            "check that every file is still what was sealed",
            "Reads every bag at or below each path once, in the order in which its files lie on "
            "the drive, and compares every "
            "file with its manifests. Everything that deviates is reported: altered, missing, "
            "moved, added and unreadable "
            "files, with byte ranges where they are known. The audit goes on past every error and "
            "changes nothing in a bag.\n\n"
            "On a volume of the shelf (`glassine shelf add`) bags at risk come first, then those "
            "longest unproven; the result is remembered, the seal is compared with the one on "
            "record, and the drive's speed with its own earlier audits. With --budget the audit "
            "stops in time, or reads no more than a number of bytes, for a place where reading "
            "costs money; it goes on there the next time. Names and sizes of all bags are looked "
            "at even so, when bytes are counted. In an object store every look, a quick one too, "
            "compares the store's own checksums with those of when the objects were proven: that "
            "proves nothing, but shows what was exchanged there.\n\n"
            "A bag may also be packed into one file (.tar, .tar.gz, .tar.zst, .tar.bz2, .tar.xz, "
            ".zip); it is read without being unpacked to disk.\n\n"
            "With --profile each bag is also held against a BagIt profile, an agreement between "
            "sender and receiver. It is read from the file and never fetched.\n\n"
            "Exit code 0 means: every bag is complete and every digest is right. With --quick "
            "nothing is hashed, so nothing is "
            "proven.",
            {{"glassine audit /mnt/shelf-a", "check every bag on a drive"},
             {"glassine audit /mnt/shelf-a/2025-06-14_holt_gala", "check one bag"},
             {"glassine audit /mnt/shelf-a --budget 90m", "as much as an hour and a half allows"},
             {"glassine audit /mnt/shelf-a --budget 50GB", "as much as 50 GB allow"},
             {"glassine audit received/2025-06-14_holt_gala.tar",
              "check a bag that came packed into one file"},
             {"glassine audit received/* --profile agreed.json",
              "check bags from outside against what was agreed with their sender"},
             {"glassine audit /mnt/shelf-a --quick", "look for missing and added files in seconds"},
             {"glassine audit /mnt/shelf-a /mnt/shelf-b --html audit-2026.html",
              "also write a page for the paper file"},
             {"glassine audit /mnt/shelf-a --json > audit.json", "keep the result for a program"}},
            declare_audit};
}

Command inspect_command() {
    return {"inspect",
            "show what is in a bag, without hashing",
            "Shows whose job it is, what it holds and what its structure is like. Nothing is "
            "hashed: `glassine audit` proves "
            "that the files are whole. A compressed archive (.tar.gz and the like) has to be read "
            "to its end even for that.",
            {{"glassine inspect /mnt/shelf-a/2025-06-14_holt_gala", "show one bag"}},
            declare_inspect};
}

}  // namespace glassine::cli
