#include "journeys/medium_files.h"

#include "glassine/base/text.h"
#include "glassine/flow/digest_sink.h"
#include "glassine/io/files.h"
#include "glassine/job/layout.h"
#include "glassine/shelf/volume.h"

#include <algorithm>
#include <array>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

/// Folders of an operating system that hold what somebody deleted, or what a check recovered.
bool may_hold_pictures(std::string_view name) {
    const std::string lower = text::ascii_lower(name);
    constexpr std::array places{".trashes", "$recycle.bin", "recycler", "lost+found"};
    return lower.starts_with(".trash-") || std::ranges::find(places, lower) != places.end();
}

class Medium {
  public:
    Medium(const Context& context, const io::Path& folder)
        : context_(context), root_(context.files.resolve(folder)) {}

    void list() {
        io::walk(
            context_.files, root_, [&](const io::WalkEntry& entry) { visit(entry); },
            [&](const std::string& path, const Error& error) {
                if (path.empty()) throw Error(error);
                found_.findings.push_back(
                    glassine::found(FindingKind::unreadable, path, error.sentence()));
            },
            [&](const io::WalkEntry& entry) { return !is_left_out(entry); });
    }

    MediumFiles read(const std::vector<digest::Algorithm>& algorithms) {
        std::vector<shelf::MediumFile> files(items_.size());
        std::vector<char> whole(items_.size(), 0);
        flow::DigestSink digests(
            algorithms, [&](const flow::Item& item, const std::vector<digest::Value>& values) {
                files[item.id] = {item.name, item.size, values};
                whole[item.id] = 1;
            });
        flow::Sink* sinks[] = {&digests};
        flow::Options options;
        options.resources = context_.resources;
        options.stop = context_.stop;
        options.on_item = [&](const flow::Item& item, const flow::Outcome& outcome) {
            note_outcome(item, outcome);
        };
        const auto phase = context_.monitor.phase(fmt::format("Reading {} in {}",
                                                              text::counted(items_.size(), "file"),
                                                              text::for_terminal(root_.string())));
        options.observer = phase.get();
        const flow::Result result =
            flow::River(context_.files).run(flow::reading_of(items_), sinks, options);
        if (!result.sink_failures.empty()) throw Error(result.sink_failures.front().error);
        found_.stopped = result.cancelled;
        for (std::size_t i = 0; i < files.size(); ++i)
            if (whole[i] != 0) found_.files.push_back(std::move(files[i]));
        return std::move(found_);
    }

  private:
    void visit(const io::WalkEntry& entry) {
        if (entry.type == io::FileType::directory) {
            if (is_left_out(entry)) leave_out(entry, "an operating system keeps this folder");
            return;
        }
        if (entry.type != io::FileType::regular)
            return leave_out(entry, "it is no file and holds no content of its own");
        if (entry.path == shelf::identity_file_name || entry.path == shelf::event_log_name)
            return leave_out(entry, "Glassine keeps it here; the register has what it says");
        if (is_junk_file(entry)) return leave_out(entry, "an operating system left it");
        flow::Item item;
        item.id = items_.size();
        item.path = root_ / entry.path;
        item.name = entry.path;
        item.size = entry.info.size;
        item.modified = entry.info.modified;
        item.check_unchanged = true;
        found_.bytes += item.size;
        items_.push_back(std::move(item));
    }

    static bool is_left_out(const io::WalkEntry& entry) {
        const std::string_view name = job::file_name_of(entry.path);
        return job::is_system_junk(name, true) && !may_hold_pictures(name);
    }

    bool is_junk_file(const io::WalkEntry& entry) {
        const std::string_view name = job::file_name_of(entry.path);
        if (!name.starts_with("._")) return job::is_system_junk(name, false);
        // RFC 1740 §3: an AppleDouble header file begins with 00 05 16 07.
        constexpr std::array mark{std::byte{0}, std::byte{5}, std::byte{0x16}, std::byte{7}};
        std::array<std::byte, 4> head{};
        try {
            return context_.files.open(root_ / entry.path)->read(0, head) == 4 && head == mark;
        } catch (const Error&) {
            return false;  // The river will say why it cannot be read.
        }
    }

    void leave_out(const io::WalkEntry& entry, const char* why) {
        const bool special =
            entry.type != io::FileType::regular && entry.type != io::FileType::directory;
        found_.findings.push_back(
            glassine::found(special ? FindingKind::special_file : FindingKind::system_junk,
                            Severity::note, entry.path, why));
    }

    void note_outcome(const flow::Item& item, const flow::Outcome& outcome) {
        if (outcome.status == flow::Status::whole || outcome.status == flow::Status::cancelled)
            return;
        const bool moved =
            outcome.status == flow::Status::changed || outcome.status == flow::Status::vanished;
        found_.findings.push_back(glassine::found(
            moved ? FindingKind::changed_while_reading : FindingKind::unreadable, item.name,
            outcome.why.empty() ? "not all of it could be read" : outcome.why));
    }

    const Context& context_;
    io::Path root_;
    std::vector<flow::Item> items_;
    MediumFiles found_;
};

}  // namespace

MediumFiles read_medium(const Context& context, const io::Path& folder,
                        const std::vector<digest::Algorithm>& algorithms) {
    Medium medium(context, folder);
    medium.list();
    return medium.read(algorithms);
}

}  // namespace glassine::journeys
