#include "glassine/bagit/archive.h"

#include "archive_load.h"
#include "archive_view.h"
#include "folder.h"
#include "glassine/bagit/layout.h"
#include "glassine/flow/digest_sink.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

/// Serialised bags, plain and packed.
namespace glassine::bagit {
namespace {

using digest::Algorithm;
using Index = Listing::Index;
using Ordinal = ArchiveMembers::Ordinal;

/// Takes digests of files that the first pass could not know to be wanted.
class LateSink : public flow::Sink {
  public:
    LateSink(Verdict& verdict, Algorithm algorithm)
        : verdict_(verdict),
          algorithm_(algorithm),
          digests_({algorithm}, [&verdict, algorithm](const flow::Item& item, const auto& values) {
              verdict.digest(static_cast<Index>(item.id), algorithm, values[0]);
          }) {}
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override {
        return verdict_.wants(static_cast<Index>(item.id), algorithm_) ? digests_.open(item)
                                                                       : nullptr;
    }

  private:
    Verdict& verdict_;
    Algorithm algorithm_;
    flow::DigestSink digests_;
};

/// Builds the bag of a packed archive from what was kept of it.
Bag bag_of(const LoadedArchive& archive, const LoadOptions& options) {
    BagLoader loader(copy_of(archive.contents.listing), options);
    tell_archive(archive.contents, loader);
    const auto content = [&](Index file) -> const std::string* {
        const Ordinal member = archive.member_of[file];
        const auto tag = archive.tags.find(member);
        return tag == archive.tags.end() ? nullptr : &tag->second;
    };
    const Index declaration = loader.listing().find(declaration_file);
    const std::string* declared = declaration == Listing::none ? nullptr : content(declaration);
    if (declared != nullptr)
        loader.declare(std::string_view(*declared));
    else
        loader.declare(std::nullopt);
    for (const Index file : loader.tag_files()) {
        const std::string* text = content(file);
        if (text == nullptr) continue;
        const auto reader = loader.read(file);
        reader->feed(std::as_bytes(std::span(text->data(), text->size())));
        reader->finish(!archive.bad.contains(archive.member_of[file]));
    }
    return loader.finish();
}

/// A file that is no archive at all says nothing about a bag.
BagReport no_archive(const ArchiveContents& contents, bool quick) {
    BagReport report;
    if (!quick) report.valid = false;
    report.findings = contents.findings;
    return report;
}

class PackedCheck {
  public:
    PackedCheck(io::FileSystem& files, const io::Path& path, const CheckOptions& options,
                const ArchiveLimits& limits)
        : files_(files), path_(path), options_(options), limits_(limits) {}

    BagReport run() {
        archive_ =
            load_packed(files_, path_, !options_.quick, options_.further, options_.flow, limits_);
        if (!archive_->reading.sink_failures.empty())
            throw Error(archive_->reading.sink_failures[0].error);
        BagReport report;
        report.stopped = true;
        if (!archive_->stopped)
            report = archive_->contents.readable ? judge()
                                                 : no_archive(archive_->contents, options_.quick);
        report.path = path_.string();
        report.name = archive_->contents.bag_name;
        report.archive = archive_->contents.media_type;
        report.holds_bag = archive_->contents.has_bag || archive_->contents.torn;
        report.bytes_read = archive_->reading.bytes;
        report.seconds = archive_->reading.seconds;
        return report;
    }

  private:
    BagReport judge() {
        LoadOptions load;
        load.digests = !options_.quick;
        load.most_findings = options_.most_findings;
        Verdict verdict(bag_of(*archive_, load));
        if (options_.look)
            options_.look(verdict.bag(), archive_->contents.media_type,
                          [&](Finding f) { verdict.report(std::move(f)); });
        bool stopped = false;
        if (!options_.quick) {
            hand_over(verdict);
            if (!late_.empty()) stopped = read_again(verdict);
        }
        return verdict.finish(options_.quick, stopped);
    }

    void hand_over(Verdict& verdict) {
        for (const Index file : verdict.wanted()) {
            const Ordinal member = archive_->member_of[file];
            if (const auto bad = archive_->bad.find(member); bad != archive_->bad.end()) {
                verdict.outcome(file, bad->second);
                continue;
            }
            bool all = true;
            for (const Algorithm algorithm : verdict.algorithms(file)) {
                const auto value = archive_->digests.find(algorithm, member);
                if (value) verdict.digest(file, algorithm, *value);
                all = all && value;
            }
            if (!all) late_.emplace_back(member, file);
        }
        std::ranges::sort(late_);
    }

    /// A manifest in yet another algorithm came after the payload.
    bool read_again(Verdict& verdict) {
        std::vector<std::unique_ptr<LateSink>> sinks;
        std::vector<flow::Sink*> pointers;
        for (const Algorithm algorithm : verdict.bag().algorithms()) {
            sinks.push_back(std::make_unique<LateSink>(verdict, algorithm));
            pointers.push_back(sinks.back().get());
        }
        ArchiveReader reader(files_, path_, options_.flow.cache, ArchiveReader::whole_blocks);
        ArchivePass::Wishes wishes;
        wishes.begin = [&](Ordinal member, const RawMember& raw) -> std::optional<flow::Item> {
            const auto at = std::ranges::lower_bound(late_, std::pair(member, Index{0}));
            if (at == late_.end() || at->first != member) return std::nullopt;
            flow::Item item;
            item.id = at->second;
            item.name = verdict.bag().listing()[at->second].name;
            item.size = raw.size;
            return item;
        };
        const auto result = ArchivePass(reader, pointers, options_.flow).run(wishes);
        archive_->reading.bytes += reader.bytes_read();
        archive_->reading.seconds += result.flow.seconds;
        return result.flow.cancelled;
    }

    io::FileSystem& files_;
    const io::Path& path_;
    const CheckOptions& options_;
    const ArchiveLimits& limits_;
    std::unique_ptr<LoadedArchive> archive_;
    std::vector<std::pair<Ordinal, Index>> late_;
};

Error stopped(const io::Path& path) {
    return {Cause::interrupted, "read the archive", path.string(), "it was stopped"};
}

}  // namespace

Listing copy_of(const Listing& listing) {
    Listing copy;
    for (Index i = 0; i < listing.size(); ++i) {
        const Listing::Entry entry = listing[i];
        copy.add(entry.name, entry.type, entry.size, entry.modified);
    }
    return copy;
}

void tell_archive(const ArchiveContents& archive, BagLoader& loader) {
    for (const Finding& finding : archive.findings) {
        if (archive.torn && finding.path.empty() && finding.severity == Severity::damage)
            loader.report_unseen(finding);
        else
            loader.report(finding);
    }
}

struct PlainArchive::State {
    io::Path path;
    std::unique_ptr<LoadedArchive> archive;
    std::unique_ptr<ArchiveView> view;

    FolderSource source() const {
        return {*view, path, view->base(), archive->contents.bag_name, &archive->contents};
    }
};

PlainArchive::PlainArchive() : state_(std::make_unique<State>()) {}
PlainArchive::~PlainArchive() = default;

std::unique_ptr<PlainArchive> PlainArchive::open(io::FileSystem& files, const io::Path& archive,
                                                 const flow::Options& flow,
                                                 const ArchiveLimits& limits) {
    auto loaded = load_plain(files, archive, flow, limits);
    if (!loaded) return nullptr;
    if (loaded->stopped) throw stopped(archive);
    std::unique_ptr<PlainArchive> out(new PlainArchive());
    out->state_->path = archive;
    out->state_->view = std::make_unique<ArchiveView>(files, archive, loaded->contents);
    out->state_->archive = std::move(loaded);
    return out;
}

const ArchiveContents& PlainArchive::contents() const {
    return state_->archive->contents;
}

io::FileSystem& PlainArchive::files() {
    return *state_->view;
}

const io::Path& PlainArchive::folder() const {
    return state_->view->base();
}

BagReport PlainArchive::check(const CheckOptions& options) {
    BagReport report;
    if (contents().readable)
        report = check_source(state_->source(), options);
    else
        report = no_archive(contents(), options.quick);
    report.path = state_->path.string();
    report.bytes_read += state_->archive->reading.bytes;
    return report;
}

BagReport check_archive(io::FileSystem& files, const io::Path& path, const CheckOptions& options,
                        const ArchiveLimits& limits) {
    try {
        if (const auto plain = PlainArchive::open(files, path, options.flow, limits))
            return plain->check(options);
    } catch (const Error& error) {
        if (error.cause() != Cause::interrupted) throw;
        BagReport report;
        report.stopped = true;
        report.path = path.string();
        return report;
    }
    return PackedCheck(files, path, options, limits).run();
}

struct ArchivedBag::State {
    State(io::FileSystem& f, io::Path p, const ArchiveLimits& l)
        : files(f), path(std::move(p)), limits(l) {}

    io::FileSystem& files;
    io::Path path;
    ArchiveLimits limits;
    std::unique_ptr<PlainArchive> plain;
    std::unique_ptr<LoadedArchive> packed;
    std::optional<Bag> bag;

    const ArchiveContents& contents() const { return plain ? plain->contents() : packed->contents; }

    flow::Result read_packed(std::span<const Index> chosen, const MakeItem& item,
                             std::span<flow::Sink* const> sinks, const flow::Options& options);
    flow::Item item_for(Index file, const MakeItem& make) const;
};

ArchivedBag::ArchivedBag(io::FileSystem& files, io::Path archive, const LoadOptions& load,
                         const flow::Options& flow, const ArchiveLimits& limits)
    : state_(std::make_unique<State>(files, std::move(archive), limits)) {
    State& s = *state_;
    s.plain = PlainArchive::open(files, s.path, flow, limits);
    if (!s.plain) s.packed = load_packed(files, s.path, false, {}, flow, limits);
    if (s.packed && s.packed->stopped) throw stopped(s.path);
    if (!s.contents().readable)
        throw Error(Cause::malformed, "read the archive", s.path.string(),
                    s.contents().findings.empty() ? "it is no archive that is known here"
                                                  : s.contents().findings[0].detail,
                    "take another copy");
    if (s.plain)
        s.bag = load_source(s.plain->state_->source(), load, flow);
    else
        s.bag = bag_of(*s.packed, load);
    if (!s.bag) throw stopped(s.path);
}

ArchivedBag::~ArchivedBag() = default;

const Bag& ArchivedBag::bag() const {
    return *state_->bag;
}

Bag ArchivedBag::take_bag() {
    return std::move(*state_->bag);
}

const ArchiveContents& ArchivedBag::contents() const {
    return state_->contents();
}

io::FileSystem* ArchivedBag::as_files() {
    return state_->plain ? &state_->plain->files() : nullptr;
}

io::Path ArchivedBag::folder() const {
    return state_->plain ? state_->plain->folder() : io::Path();
}

flow::Item ArchivedBag::State::item_for(Index file, const MakeItem& make) const {
    const Listing::Entry entry = contents().listing[file];
    flow::Item item = make(file);
    item.size = entry.size;
    item.modified = entry.modified;
    item.path = (plain ? plain->folder() : path) / std::string(entry.name);
    item.check_unchanged = plain != nullptr;
    return item;
}

flow::Result ArchivedBag::read(std::span<const Index> chosen, const MakeItem& item,
                               std::span<flow::Sink* const> sinks, const flow::Options& options) {
    if (!state_->plain) return state_->read_packed(chosen, item, sinks, options);
    flow::Reading reading;
    reading.count = chosen.size();
    reading.item = [&](std::size_t i) { return state_->item_for(chosen[i], item); };
    for (const Index file : chosen)
        reading.total_bytes += contents().listing[file].size;
    return flow::River(state_->plain->files()).run(reading, sinks, options);
}

/// Files that share their content (hard links) come one after the other from passes of their own:
/// each pass gives every member once.
flow::Result ArchivedBag::State::read_packed(std::span<const Index> chosen, const MakeItem& make,
                                             std::span<flow::Sink* const> sinks,
                                             const flow::Options& options) {
    std::map<Ordinal, std::vector<Index>> wanted;
    for (const Index file : chosen)
        wanted[packed->member_of[file]].push_back(file);
    flow::Result all;
    while (!wanted.empty() && !all.cancelled && all.sink_failures.empty()) {
        const Ordinal last = wanted.rbegin()->first;
        ArchiveReader reader(files, path, options.cache, ArchiveReader::whole_blocks);
        ArchivePass::Wishes wishes;
        wishes.enough = [&](Ordinal met) { return met > last; };
        Ordinal met = 0;
        wishes.begin = [&](Ordinal member, const RawMember&) -> std::optional<flow::Item> {
            met = member;
            const auto at = wanted.find(member);
            if (at == wanted.end()) return std::nullopt;
            flow::Item item = item_for(at->second.back(), make);
            at->second.pop_back();
            if (at->second.empty()) wanted.erase(at);
            return item;
        };
        const auto result = ArchivePass(reader, sinks, options).run(wishes);
        all.bytes += result.flow.bytes;
        all.files += result.flow.files;
        all.seconds += result.flow.seconds;
        all.cancelled = result.flow.cancelled;
        all.sink_failures = result.flow.sink_failures;
        if (met < last) break;
    }
    // The archive ended before them.
    flow::Outcome lost;
    lost.status = flow::Status::unreadable;
    lost.why = "the archive cannot be read so far";
    for (const auto& [member, files_of_it] : wanted)
        for (const Index file : files_of_it)
            if (options.on_item && !all.cancelled) options.on_item(item_for(file, make), lost);
    all.bypass = io::Bypass::none;
    return all;
}

}  // namespace glassine::bagit
