#include "glassine/base/text.h"
#include "glassine/report/shelf_pages.h"
#include "glassine/report/shelf_results.h"
#include "glassine/report/terminal.h"
#include "report/findings_text.h"
#include "report/keeping_words.h"
#include "report/label.h"
#include "report/paint.h"

#include <algorithm>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace glassine::report {
namespace {

using shelf::CopyFacts;
using shelf::CopyState;
using shelf::VolumeFacts;
using text::for_terminal;

std::string where(const shelf::VolumeIdentity& volume) {
    const std::string& name = volume.label.empty() ? volume.id : volume.label;
    return volume.place.empty() ? for_terminal(name)
                                : for_terminal(fmt::format("{} ({})", name, volume.place));
}

std::string state_text(const CopyFacts& copy, const Paint& paint) {
    std::string words(word(copy.state));
    const bool whole = copy.state == CopyState::whole;
    const bool bad = copy.state == CopyState::damaged || copy.state == CopyState::replaced;
    std::string out = whole ? paint.good(words) : bad ? paint.bad(words) : paint.careful(words);
    if (copy.proven) out += ", last proven " + iso_date(utc_date(*copy.proven));
    if (!copy.trouble.empty()) out += ": " + for_terminal(copy.trouble);
    return out;
}

std::string copies_text(const std::vector<CopyFacts>& copies,
                        const std::vector<VolumeFacts>& volumes, const Paint& paint) {
    std::string out;
    for (const CopyFacts& copy : copies) {
        const auto at = std::ranges::find_if(
            volumes, [&](const VolumeFacts& v) { return v.identity.id == copy.volume; });
        const std::string name =
            at == volumes.end() ? for_terminal(copy.volume) : where(at->identity);
        out += fmt::format("  {}: {}\n", paint.strong(name), state_text(copy, paint));
        if (!copy.path.empty() && copy.is_there())
            out += fmt::format("      at {}\n", for_terminal(copy.path));
    }
    if (copies.empty()) out += "  no copy is known\n";
    return out;
}

std::string bag_text(const shelf::BagFacts& bag, const shelf::Standing& standing,
                     const std::vector<VolumeFacts>& volumes, const Paint& paint) {
    std::string out = paint.strong(for_terminal(bag.name));
    if (!bag.clients.empty())
        out += " · " + for_terminal(fmt::format("{}", fmt::join(bag.clients, ", ")));
    out += fmt::format(" · {}, {}\n", text::counted(bag.payload_files, "file"),
                       text::human_bytes(bag.payload_bytes));
    out += copies_text(bag.copies, volumes, paint);
    out += fmt::format("  kept at NDSA level {} for storage, {} for integrity\n",
                       standing.storage_level, standing.integrity_level);
    const std::string dates = keeping_words(standing.promised_until, standing.keep_until);
    if (!dates.empty()) out += "  " + dates + "\n";
    if (!standing.lacks.empty())
        out += "  " + paint.careful(fmt::format("{}", fmt::join(standing.lacks, ", "))) + "\n";
    for (const std::string& weakness : standing.weaknesses)
        out += "  " + for_terminal(weakness) + "\n";
    return out;
}

std::string volume_line(const VolumeFacts& volume, const shelf::Facts& facts, const Paint& paint) {
    std::uint64_t bags = 0;
    std::uint64_t bytes = 0;
    for (const shelf::BagFacts& bag : facts.bags)
        for (const CopyFacts& copy : bag.copies)
            if (copy.volume == volume.identity.id && copy.is_there()) {
                ++bags;
                bytes += bag.payload_bytes;
            }
    std::string out = fmt::format("  {}  {} · {}, {}", paint.strong(where(volume.identity)),
                                  word(volume.identity.kind), text::counted(bags, "bag"),
                                  text::human_bytes(bytes));
    if (volume.identity.capacity > 0) out += " of " + text::human_bytes(volume.identity.capacity);
    if (!volume.root.empty()) out += " · last at " + for_terminal(volume.root);
    if (volume.retired)
        out += paint.careful(" · out of service since " + iso_date(utc_date(*volume.retired)));
    return out + "\n";
}

/// What the label says, for those who write it by hand.
std::string label_text(const VolumeLabel& label, Date today, const Paint& paint) {
    const shelf::VolumeIdentity& volume = label.volume;
    std::string out = paint.strong(where(volume));
    if (volume.in_service) out += " · in service since " + iso_date(*volume.in_service);
    out += "\n  id " + for_terminal(volume.id) + "\n";
    const std::string audit = audit_words(label, today);
    if (!audit.empty()) out += "  " + audit + "\n";
    for (const VolumeLabel::Job& job : label.jobs)
        out += fmt::format("  {}  seal {}…{}\n", for_terminal(job.bag),
                           for_terminal(job.seal.substr(0, short_seal)),
                           job.state == CopyState::damaged || job.state == CopyState::replaced
                               ? " · " + paint.bad(word(job.state))
                               : "");
    if (label.jobs.empty()) out += "  no job stands on it\n";
    return out;
}

/// Which volume to fetch: of the copies that count the one proven last.
std::string advice(const shelf::BagFacts& bag, const std::vector<VolumeFacts>& volumes) {
    const CopyFacts* best = nullptr;
    for (const CopyFacts& copy : bag.copies)
        if (copy.counts() && (best == nullptr || best->proven < copy.proven)) best = &copy;
    if (best == nullptr) return "";
    const auto at = std::ranges::find_if(
        volumes, [&](const VolumeFacts& v) { return v.identity.id == best->volume; });
    return at == volumes.end() ? "" : "  fetch " + where(at->identity) + "\n";
}

}  // namespace

std::string to_text(const ShelfAddResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    const shelf::VolumeIdentity& volume = result.volume;
    std::string out = fmt::format(
        "{}: {}, {}, in service since {}\n", paint.strong(for_terminal(result.root)), where(volume),
        word(volume.kind), volume.in_service ? iso_date(*volume.in_service) : "no known day");
    if (!volume.model.empty() || !volume.serial.empty())
        out += fmt::format("  model {}, serial {}\n",
                           volume.model.empty() ? "not known" : for_terminal(volume.model),
                           volume.serial.empty() ? "not known" : for_terminal(volume.serial));
    out += findings_text(result.findings, style);
    return out + "glassine-volume.json at its root tells from now on which volume this is\n";
}

std::string to_text(const ShelfOverview& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out = paint.strong("Volumes") + "\n";
    for (const VolumeFacts& volume : result.facts.volumes)
        out += volume_line(volume, result.facts, paint);
    if (result.facts.volumes.empty()) out += "  none yet: `glassine shelf add` adds the first\n";
    out += "\n" + paint.strong("Bags") + "\n";
    for (std::size_t i = 0; i < result.facts.bags.size(); ++i)
        out += bag_text(result.facts.bags[i], result.standings[i], result.facts.volumes, paint);
    if (result.facts.bags.empty())
        out += "  none yet: `glassine closeout` and `glassine shelf scan` take them in\n";
    out += findings_text(result.findings, style);
    return out + fmt::format("{}, {}; {} due\n",
                             text::counted(result.facts.volumes.size(), "volume"),
                             text::counted(result.facts.bags.size(), "bag"),
                             text::counted(result.due.size(), "thing"));
}

std::string to_text(const ShelfDueResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    if (result.items.empty()) return paint.good("nothing is due") + "\n";
    std::string out;
    for (const shelf::DueItem& item : result.items) {
        const bool grave = item.kind <= shelf::DueKind::damaged_copy;
        const std::string kind(word(item.kind));
        out += fmt::format("{}  {}\n", grave ? paint.bad(kind) : paint.careful(kind),
                           for_terminal(item.what));
        out += fmt::format("    {}\n", for_terminal(item.command));
    }
    return out + fmt::format("{} due, the most urgent first\n",
                             text::counted(result.items.size(), "thing"));
}

std::string to_text(const ShelfFindResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out;
    for (const ShelfFindResult::Hit& hit : result.hits) {
        out += bag_text(hit.found.bag, hit.standing, result.volumes, paint);
        if (!hit.found.frames.empty())
            out += "  frames " +
                   for_terminal(fmt::format("{}", fmt::join(hit.found.frames, ", "))) + "\n";
        out += advice(hit.found.bag, result.volumes);
    }
    if (result.hits.empty())
        return fmt::format("nothing on the shelf answers to \"{}\"; fewer or other words may\n",
                           for_terminal(result.words));
    return out;
}

std::string to_text(const ShelfScanResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out = findings_text(result.findings, style);
    if (!result.set_aside.empty())
        out += fmt::format("The damaged register is kept in {}\n", for_terminal(result.set_aside));
    for (const ScannedVolume& scanned : result.volumes)
        out +=
            fmt::format("{}: {} · {}, {} ({} new)\n", paint.strong(for_terminal(scanned.root)),
                        where(scanned.volume), text::counted(scanned.bags, "bag"),
                        text::counted(scanned.events, "event"), text::grouped(scanned.new_events));
    return out;
}

std::string to_text(const ShelfDatesResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out = fmt::format("{}: {}\n", paint.strong(for_terminal(result.bag)),
                                  keeping_words(result.promised_until, result.keep_until));
    if (result.keep_until && result.promised_until && *result.keep_until < *result.promised_until)
        out += "  what was promised ends later: the job is kept until then\n";
    out += findings_text(result.findings, style);
    return out + fmt::format("written into the register and the logs of {}\n",
                             text::counted(result.volumes.size(), "connected volume"));
}

std::string to_text(const ShelfRetireResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out =
        fmt::format("{} is out of service; its copies of {} do not count any more\n",
                    paint.strong(where(result.volume)), text::counted(result.bags.size(), "bag"));
    return out + findings_text(result.findings, style);
}

std::string to_text(const ShelfPageResult& result, const TerminalStyle& style) {
    return fmt::format("{}: {} on {}, {} due\n",
                       Paint(style.color).strong(for_terminal(result.html)),
                       text::counted(result.bags, "job"), text::counted(result.volumes, "volume"),
                       text::counted(result.due, "thing"));
}

std::string to_text(const ShelfLabelResult& result, const TerminalStyle& style) {
    const Paint paint(style.color);
    std::string out;
    for (const VolumeLabel& label : result.labels)
        out += label_text(label, result.today, paint);
    for (const std::string& file : {result.html, result.svg})
        if (!file.empty()) out += fmt::format("to print: {}\n", paint.strong(for_terminal(file)));
    return out;
}

}  // namespace glassine::report
