#include "journeys/carry.h"

#include "glassine/bagit/check.h"
#include "glassine/base/text.h"
#include "journeys/bag_compare.h"
#include "journeys/bag_reading.h"
#include "journeys/carrying_sinks.h"
#include "journeys/copies.h"
#include "journeys/places.h"
#include "journeys/right_bytes.h"
#include "journeys/source_tree.h"
#include "journeys/trusted_proofs.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using report::Fate;

bool concerns_bytes(const Finding& f) {
    return !f.path.empty() && calls_for_mending(f);
}

class Carrying {
  public:
    Carrying(const Context& context, const CarryRequest& request)
        : context_(context), request_(request), name_(request.bag.filename().string()) {}

    report::MigratedBag run() {
        try {
            tree_ = look_at_source(context_, request_, bag_);
            const io::Path standing = request_.folder / name_;
            if (stands(context_, standing))
                prove_standing(context_, request_.bag, standing, bag_);
            else
                make();
        } catch (const Error& error) {
            if (error.cause() == Cause::interrupted) throw;
            failed(bag_, error);
        }
        sort_findings(bag_.findings);
        return std::move(bag_);
    }

  private:
    /// Whatever happens, nothing half-made is left behind.
    void make() {
        auto destination = bag_destination(context_, request_.folder, name_);
        destination_ = destination.get();
        copies_.add(std::move(destination), 0);
        copies_.check(tree_.need());
        try {
            destination_->prepare();
            write();
            if (request_.only_whole && any_at_least(bag_.findings, Severity::damage))
                bag_.failure = "it is damaged beyond what could be healed";
            else
                publish();
        } catch (...) {
            copies_.abandon();
            throw;
        }
        copies_.abandon();
    }

    void write() {
        CopySinks copy(*destination_);
        read_and_prove(copy);
        read_the_rest(copy);
        withdraw_unproven(copy);
        if (!damaged_.empty()) heal(copy);
        for (const std::string& folder : tree_.folders)
            destination_->put_folder(folder);
        expected_ = copy.written();
    }

    void stop_here() const {
        throw Error(Cause::interrupted, "carry the bag", bag_.source, "it was interrupted",
                    "nothing stands under its name at the destination; run the command again");
    }

    /// The single read: everything that the manifests list, proven by them and written.
    void read_and_prove(CopySinks& copy) {
        const auto phase =
            context_.monitor.phase(fmt::format("Carrying {}", text::for_terminal(name_)));
        bagit::CheckOptions options;
        options.flow = reading_options(context_);
        options.flow.observer = phase.get();
        options.further = copy.sinks();
        const bagit::BagReport report = bagit::check_folder(context_.files, request_.bag, options);
        if (report.stopped) stop_here();
        bag_.findings = report.findings;
        for (const Finding& f : report.findings)
            if (concerns_bytes(f)) damaged_.insert(f.path);
    }

    /// What no manifest lists, and bagit.txt.
    void read_the_rest(CopySinks& copy) {
        std::vector<flow::Item> rest;
        for (const flow::Item& item : tree_.files)
            if (!written_before(copy, item.name)) rest.push_back(item);
        read(rest, copy);
        for (const Finding& f : tree_.findings)
            if (std::ranges::find(bag_.findings, f.path, &Finding::path) == bag_.findings.end())
                bag_.findings.push_back(f);
    }

    bool written_before(const CopySinks& copy, const std::string& name) const {
        return copy.written().contains(name) ||
               std::ranges::find(destination_->written(), name,
                                 &flow::Destination::Written::name) !=
                   destination_->written().end();
    }

    void read(const std::vector<flow::Item>& items, CopySinks& copy) {
        if (items.empty()) return;
        flow::Options options = reading_options(context_);
        options.on_item = [&](const flow::Item& item, const flow::Outcome& outcome) {
            if (outcome.status != flow::Status::whole && outcome.status != flow::Status::cancelled)
                unread_.push_back(found(FindingKind::unreadable, item.name, outcome.why));
        };
        auto sinks = copy.sinks();
        const flow::Result result =
            flow::River(context_.files).run(flow::reading_of(items), sinks, options);
        copy.rethrow(result);
        if (result.cancelled) stop_here();
        for (Finding& f : unread_)
            if (!damaged_.contains(f.path)) bag_.findings.push_back(std::move(f));
        unread_.clear();
    }

    /// A file of which nothing could be read has left an empty one behind.
    void withdraw_unproven(const CopySinks& copy) {
        std::vector<std::string> names;
        for (const auto& written : destination_->written())
            if (!copy.written().contains(written.name)) names.push_back(written.name);
        for (const std::string& name : names)
            destination_->withdraw(name);
    }

    void heal(CopySinks& copy) {
        const bagit::Bag loaded = load_bag(context_, request_.bag);
        TrustedProofs trusted = trusted_proofs(context_, request_.bag, loaded, request_.others);
        judge_again(trusted, copy);
        IntoCopy into(*destination_, copy);
        ProvenFiles target(into, trusted.proofs, [](const std::string& name) { return name; });
        bag_.healed = RightBytes(context_, request_.bag, request_.others).bring(damaged_, target);
        if (context_.stop.stop_requested()) stop_here();
        tell_healed(target);
        carry_as_it_is(copy);
    }

    /// A manifest that is damaged itself may have called whole files damaged, and the other way
    /// round: what was read counts against what is proven.
    void judge_again(const TrustedProofs& trusted, const CopySinks& copy) {
        if (trusted.findings.empty()) return;
        for (const auto& [name, proof] : trusted.proofs.all()) {
            if (!is_right(name, proof, copy))
                damaged_.insert(name);
            else if (damaged_.erase(name) > 0)
                acquit(name);
        }
    }

    bool is_right(const std::string& name, const Proof& proof, const CopySinks& copy) const {
        const auto seen = copy.written().find(name);
        if (seen == copy.written().end()) return false;
        if (proof.algorithm == digest::Algorithm::sha512) return seen->second == proof.digest;
        return digest_of_file(context_.files, request_.bag / name, proof.algorithm) == proof.digest;
    }

    void acquit(const std::string& name) {
        std::erase_if(bag_.findings,
                      [&](const Finding& f) { return f.path == name && concerns_bytes(f); });
    }

    void tell_healed(const ProvenFiles& target) {
        for (const report::HealedFile& file : bag_.healed)
            damaged_.erase(file.path);
        std::erase_if(bag_.findings, [&](const Finding& f) {
            // The sums in bag-info.txt disagree as long as files are lost.
            const bool counts = f.kind == FindingKind::oxum_mismatch && damaged_.empty();
            return (target.has(f.path) || counts) && f.severity == Severity::damage;
        });
        for (const report::HealedFile& file : bag_.healed) {
            bag_.findings.push_back(
                found(FindingKind::healed, file.path,
                      fmt::format("it is damaged at the source; the copy has it whole, from {}",
                                  file.from)));
        }
    }

    /// What could not be healed was withdrawn for the attempt: it is carried with its damage, which
    /// is better than nothing.
    void carry_as_it_is(CopySinks& copy) {
        std::vector<flow::Item> items;
        for (const flow::Item& item : tree_.files)
            if (damaged_.contains(item.name) && !copy.written().contains(item.name))
                items.push_back(item);
        read(items, copy);
        withdraw_unproven(copy);
    }

    void publish() {
        std::vector<std::string> differing;
        copies_.seal(context_, expected_, differing);
        const Copies::Made& made = copies_[0];
        if (made.failure) {
            if (made.failure->cause() == Cause::interrupted) throw Error(*made.failure);
            bag_.failure = made.failure->sentence();
            return;
        }
        bag_.path = destination_->published_path();
        bag_.how = made.how;
        bag_.fate = any_at_least(bag_.findings, Severity::damage) ? Fate::damaged : Fate::carried;
    }

    const Context& context_;
    const CarryRequest& request_;
    std::string name_;
    report::MigratedBag bag_;
    SourceTree tree_;
    Copies copies_;
    flow::Destination* destination_ = nullptr;
    std::set<std::string> damaged_;
    std::vector<Finding> unread_;
    Expected expected_;
};

}  // namespace

SourceTree look_at_source(const Context& context, const CarryRequest& request,
                          report::MigratedBag& bag) {
    bag.source = request.bag.string();
    SourceTree tree = list_tree(context.files, context.files.resolve(request.bag));
    bag.files = tree.files.size();
    bag.bytes = tree.need().bytes;
    return tree;
}

void failed(report::MigratedBag& bag, const Error& error) {
    bag.fate = Fate::failed;
    bag.failure = error.sentence();
}

report::MigratedBag carry(const Context& context, const CarryRequest& request) {
    return Carrying(context, request).run();
}

}  // namespace glassine::journeys
