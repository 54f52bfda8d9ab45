#include "folder.h"

#include "glassine/bagit/check.h"
#include "glassine/bagit/layout.h"
#include "glassine/flow/digest_sink.h"
#include "glassine/io/files.h"
#include "run_share.h"
#include "slow_reads.h"

#include <algorithm>
#include <iterator>
#include <map>
#include <memory>
#include <mutex>
#include <utility>

/// Bags that are folders.
namespace glassine::bagit {
namespace {

using Index = Listing::Index;

/// bytes of bagit.txt that are looked at; two lines need about sixty.
constexpr std::size_t most_of_declaration = 64u << 10;

/// Feeds tag files to the loader's readers.
class TagSink : public flow::Sink {
  public:
    explicit TagSink(BagLoader& loader) : loader_(loader) {}

    std::unique_ptr<flow::Stream> open(const flow::Item& item) override {
        return std::make_unique<Reading>(loader_.read(static_cast<Index>(item.id)));
    }

  private:
    class Reading : public flow::Stream {
      public:
        explicit Reading(std::unique_ptr<TagReader> reader) : reader_(std::move(reader)) {}
        void block(std::uint64_t, std::span<const std::byte> bytes) override {
            reader_->feed(bytes);
        }
        void gap(std::uint64_t, std::uint64_t length) override { reader_->gap(length); }
        void finish(const flow::Outcome& outcome) override {
            reader_->finish(outcome.status == flow::Status::whole);
        }

      private:
        std::unique_ptr<TagReader> reader_;
    };
    BagLoader& loader_;
};

/// The files that read as every manifest has them: a check that is stopped goes on from
/// there.
class ProvenFiles {
  public:
    ProvenFiles(const Verdict& verdict, const CheckOptions& options)
        : verdict_(verdict), options_(options) {}

    void met(Index file, digest::Algorithm algorithm, const digest::Value& value) {
        if (!options_.on_proven || verdict_.bag().expected(file, algorithm) != value) return;
        const std::size_t wanted = verdict_.bag().algorithms(file).size();
        const std::lock_guard lock(mutex_);
        if (wanted > 1 && ++matches_[file] < wanted) return;
        options_.on_proven(verdict_.bag().listing()[file].name);
    }

    /// Takes a file's digests as proven by an earlier check; false when it has to be read.
    bool take(Verdict& verdict, Index file) const {
        const std::string_view name = verdict.bag().listing()[file].name;
        if (!options_.proven_before || !options_.proven_before(name)) return false;
        const auto algorithms = verdict.algorithms(file);
        const bool listed = std::ranges::all_of(algorithms, [&](digest::Algorithm algorithm) {
            return verdict.bag().expected(file, algorithm).has_value();
        });
        if (!listed || algorithms.empty()) return false;
        for (const digest::Algorithm algorithm : algorithms)
            verdict.digest(file, algorithm, *verdict.bag().expected(file, algorithm));
        return true;
    }

  private:
    const Verdict& verdict_;
    const CheckOptions& options_;
    std::mutex mutex_;
    std::map<Index, std::size_t> matches_;  ///< of files that several manifests list
};

/// One algorithm's digests, of the files that want them.
class VerdictSink : public flow::Sink {
  public:
    VerdictSink(Verdict& verdict, digest::Algorithm algorithm, ProvenFiles& proven)
        : verdict_(verdict),
          algorithm_(algorithm),
          digests_({algorithm}, [this, &proven](const flow::Item& item,
                                                const std::vector<digest::Value>& values) {
              const auto file = static_cast<Index>(item.id);
              verdict_.digest(file, algorithm_, values[0]);
              proven.met(file, algorithm_, values[0]);
          }) {}

    std::unique_ptr<flow::Stream> open(const flow::Item& item) override {
        if (!verdict_.wants(static_cast<Index>(item.id), algorithm_)) return nullptr;
        return digests_.open(item);
    }

  private:
    Verdict& verdict_;
    digest::Algorithm algorithm_;
    flow::DigestSink digests_;
};

class FolderCheck {
  public:
    FolderCheck(FolderSource source, const flow::Options& flow,
                std::span<flow::Sink* const> further = {})
        : source_(std::move(source)),
          files_(source_.files),
          root_(source_.root),
          flow_(flow),
          further_(further.begin(), further.end()) {}

    /// Nothing when the run was stopped.
    std::optional<Bag> load(const LoadOptions& options) {
        std::vector<Finding> unseen;
        BagLoader loader(list(unseen), options);
        if (source_.archive != nullptr) tell_archive(*source_.archive, loader);
        for (Finding& finding : unseen)
            loader.report_unseen(std::move(finding));
        share_.expect(loader.listing());
        declare(loader);
        TagSink sink(loader);
        read(loader.listing(), loader.tag_files(), {{&sink}},
             [&](Index file, const flow::Outcome& outcome) {
                 tell_tag_outcome(loader, file, outcome);
             });
        if (stopped_) return std::nullopt;
        return loader.finish();
    }

    BagReport check(const CheckOptions& options) {
        auto bag = load({!options.quick, options.most_findings});
        if (!bag) return stopped_report();
        Verdict verdict(std::move(*bag));
        if (options.look)
            options.look(verdict.bag(), archive_type(),
                         [&](Finding f) { verdict.report(std::move(f)); });
        if (!options.quick) read_payload(verdict, options);
        return finished(verdict.finish(options.quick, stopped_));
    }

    BagReport finished(BagReport report) const {
        report.path = source_.given.string();
        report.name = source_.name;
        if (source_.archive != nullptr) {
            report.archive = source_.archive->media_type;
            report.holds_bag = source_.archive->has_bag || source_.archive->torn;
        }
        report.bytes_read = bytes_read_;
        report.seconds = seconds_;
        return report;
    }

  private:
    std::string_view archive_type() const {
        return source_.archive == nullptr ? std::string_view() : source_.archive->media_type;
    }

    Listing list(std::vector<Finding>& unseen) {
        if (source_.archive != nullptr) return copy_of(source_.archive->listing);
        Listing listing;
        io::walk(
            files_, root_,
            [&](const io::WalkEntry& entry) {
                listing.add(entry.path, entry.type, entry.info.size, entry.info.modified);
            },
            [&](const std::string& path, const Error& error) {
                if (path.empty()) throw Error(error);
                unseen.push_back(found(FindingKind::unreadable, path, error.sentence()));
            });
        return listing;
    }

    void declare(BagLoader& loader) {
        const Index file = loader.listing().find(declaration_file);
        if (file == Listing::none || !loader.listing().is_file(file))
            return loader.declare(std::nullopt);
        try {
            const auto input = files_.open(root_ / declaration_file, flow_.cache);
            std::string content(most_of_declaration + 1, '\0');
            const std::size_t got =
                input->read(0, std::as_writable_bytes(std::span(content.data(), content.size())));
            content.resize(std::min(got, most_of_declaration));
            bytes_read_ += content.size();
            loader.declare(content, got <= most_of_declaration);
        } catch (const Error& error) {
            loader.report(
                found(FindingKind::unreadable, std::string(declaration_file), error.sentence()));
            loader.declare(std::nullopt);
        }
    }

    static void tell_tag_outcome(BagLoader& loader, Index file, const flow::Outcome& outcome) {
        for (Finding& finding : outcome_findings(loader.listing()[file], outcome))
            loader.report(std::move(finding));
    }

    void read_payload(Verdict& verdict, const CheckOptions& check) {
        ProvenFiles proven(verdict, check);
        std::vector<Index> wanted;
        std::ranges::copy_if(verdict.wanted(), std::back_inserter(wanted),
                             [&](Index file) { return !proven.take(verdict, file); });
        const auto later = [&](Index file) {
            const auto entry = verdict.bag().listing()[file];
            return check.put_off && check.put_off(entry.name, entry.size);
        };
        const bool put_off = std::erase_if(wanted, later) > 0;
        std::vector<std::unique_ptr<VerdictSink>> sinks;
        std::vector<flow::Sink*> pointers;
        for (const digest::Algorithm algorithm : verdict.bag().algorithms()) {
            sinks.push_back(std::make_unique<VerdictSink>(verdict, algorithm, proven));
            pointers.push_back(sinks.back().get());
        }
        SlowReads slow;
        read(verdict.bag().listing(), wanted, pointers,
             [&](Index file, const flow::Outcome& outcome) {
                 verdict.outcome(file, outcome);
                 slow.met(std::string(verdict.bag().listing()[file].name), outcome);
             });
        stopped_ = stopped_ || put_off;
        slow.tell([&](Finding finding) { verdict.report(std::move(finding)); });
    }

    using OnOutcome = std::function<void(Index, const flow::Outcome&)>;

    /// One run of the river; several make one progress for whoever watches.
    void read(const Listing& listing, const std::vector<Index>& wanted,
              std::span<flow::Sink* const> sinks, const OnOutcome& on_outcome) {
        if (wanted.empty() || stopped_) return;
        flow::Reading reading;
        reading.count = wanted.size();
        reading.item = [&](std::size_t i) { return item(listing, wanted[i]); };
        for (const Index file : wanted)
            reading.total_bytes += listing[file].size;
        flow::Options options = flow_;
        ShareObserver observer(flow_.observer, share_);
        options.observer = flow_.observer ? &observer : nullptr;
        options.on_item = [&](const flow::Item& item, const flow::Outcome& outcome) {
            on_outcome(static_cast<Index>(item.id), outcome);
            if (flow_.on_item) flow_.on_item(item, outcome);
        };
        std::vector<flow::Sink*> all(sinks.begin(), sinks.end());
        all.insert(all.end(), further_.begin(), further_.end());
        const flow::Result result = flow::River(files_).run(reading, all, options);
        if (!result.sink_failures.empty()) throw Error(result.sink_failures[0].error);
        share_.done(result.bytes, result.files);
        stopped_ = result.cancelled;
        bytes_read_ += result.bytes;
        seconds_ += result.seconds;
    }

    flow::Item item(const Listing& listing, Index file) const {
        const Listing::Entry entry = listing[file];
        flow::Item out;
        out.id = file;
        out.name = std::string(entry.name);
        out.path = root_ / out.name;
        out.size = entry.size;
        out.modified = entry.modified;
        out.check_unchanged = true;
        return out;
    }

    BagReport stopped_report() const {
        BagReport report;
        report.stopped = true;
        return finished(std::move(report));
    }

    FolderSource source_;
    io::FileSystem& files_;
    io::Path root_;
    const flow::Options& flow_;
    std::vector<flow::Sink*> further_;
    RunShare share_;
    bool stopped_ = false;
    std::uint64_t bytes_read_ = 0;
    double seconds_ = 0;
};

}  // namespace

BagReport check_source(FolderSource source, const CheckOptions& options) {
    return FolderCheck(std::move(source), options.flow, options.further).check(options);
}

std::optional<Bag> load_source(FolderSource source, const LoadOptions& load,
                               const flow::Options& flow) {
    return FolderCheck(std::move(source), flow).load(load);
}

FolderSource folder_source(io::FileSystem& files, const io::Path& path) {
    io::Path root = files.resolve(path);
    std::string name = root.filename().string();
    return {files, path, std::move(root), std::move(name)};
}

BagReport check_folder(io::FileSystem& files, const io::Path& path, const CheckOptions& options) {
    return check_source(folder_source(files, path), options);
}

Bag load_folder(io::FileSystem& files, const io::Path& path, const LoadOptions& load,
                const flow::Options& flow) {
    auto bag = load_source(folder_source(files, path), load, flow);
    if (bag) return std::move(*bag);
    throw Error(Cause::interrupted, "read the bag", path.string(), "it was stopped");
}

BagReport quick_report(Bag bag, const io::Path& path) {
    BagReport report = Verdict(std::move(bag)).finish(true, false);
    report.path = path.string();
    report.name = path.filename().string();
    return report;
}

bool is_bag_folder(io::FileSystem& files, const io::Path& path) {
    const auto declaration = files.find(path / declaration_file);
    if (declaration && declaration->type == io::FileType::regular) return true;
    const auto payload = files.find(path / payload_directory);
    if (!payload || payload->type != io::FileType::directory) return false;
    return std::ranges::any_of(files.list(path), [](const io::DirectoryEntry& entry) {
        const auto name = manifest_name(entry.name);
        return name && name->computable;
    });
}

std::vector<io::Path> find_bags(
    io::FileSystem& files, const io::Path& path,
    const std::function<void(const std::string& path, const Error&)>& on_error,
    const std::function<void(const io::Path& archive)>& on_archive) {
    std::vector<io::Path> bags;
    if (is_bag_folder(files, path)) return {path};
    const auto enter = [&](const io::WalkEntry& entry) {
        try {
            if (!is_bag_folder(files, path / entry.path)) return true;
            bags.push_back(path / entry.path);
        } catch (const Error& error) {
            on_error(entry.path, error);
        }
        return false;
    };
    const auto visit = [&](const io::WalkEntry& entry) {
        if (on_archive && entry.type == io::FileType::regular && is_archive_name(entry.path))
            on_archive(path / entry.path);
    };
    io::walk(files, path, visit, on_error, enter);
    return bags;
}

}  // namespace glassine::bagit
