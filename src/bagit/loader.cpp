#include "companion.h"
#include "glassine/bagit/bag.h"
#include "glassine/bagit/path.h"
#include "structure.h"

#include <algorithm>
#include <map>
#include <set>
#include <variant>

namespace glassine::bagit {
namespace {

using digest::Algorithm;

/// bytes of a bag-info.txt that are kept.
constexpr std::size_t info_room = 16u << 20;

enum class Role { metadata, fetch, manifest, companion };

struct TagFile {
    Role role;
    std::size_t manifest = 0;  ///< which one
    Listing::Index companion_of = Listing::none;
    Algorithm companion_algorithm = Algorithm::md5;
    bool read = false;
};

}  // namespace

struct BagLoader::State {
    Bag bag;
    LoadOptions options;
    std::vector<Listing::Index> order;
    std::map<Listing::Index, TagFile> files;
    std::vector<Algorithm> algorithms;  ///< in which tag files are proven
    std::mutex mutex;                   ///< guards tag digests, companions and `read`

    void report(Finding finding) { bag.log_.add(std::move(finding)); }

    void keep_digests(Listing::Index file, std::span<const Algorithm> algorithms,
                      std::span<const digest::Value> values) {
        const std::lock_guard lock(mutex);
        for (std::size_t i = 0; i < values.size(); ++i)
            bag.tag_digests_.push_back({file, algorithms[i], values[i]});
    }
    void find_tag_files();
    void add_manifests();
    void add_companions();
    void choose_algorithms();
    std::vector<Algorithm> algorithms_for(std::string_view name) const;
    ManifestRoom manifest_room() const;
    void judge();
};

/// Hashes a tag file while its parser reads it.
class BagLoader::Reader : public TagReader {
  public:
    Reader(State& state, Listing::Index file)
        : state_(state),
          file_(file),
          algorithms_(state.algorithms_for(state.bag.listing()[file].name)),
          hashers_(algorithms_) {
        const TagFile& tag = state.files.at(file);
        const std::string name(state.bag.listing()[file].name);
        const Encoding& encoding = state.bag.declaration_.encoding;
        const auto report = [&state](Finding finding) { state.report(std::move(finding)); };
        switch (tag.role) {
            case Role::metadata:
                parser_.emplace<BagInfoParser>(state.bag.info_, name, encoding, *state.bag.rules_,
                                               report, info_room);
                break;
            case Role::fetch:
                parser_.emplace<FetchParser>(state.bag.fetch_, encoding, *state.bag.rules_, report);
                break;
            case Role::manifest:
                parser_.emplace<ManifestParser>(state.bag.manifests_[tag.manifest].manifest,
                                                encoding, *state.bag.rules_, report,
                                                state.manifest_room());
                break;
            case Role::companion:
                parser_.emplace<CompanionParser>(name, tag.companion_algorithm, encoding, report);
                break;
        }
    }

    void feed(std::span<const std::byte> bytes) override {
        hashers_.update(bytes);
        with_parser([&](auto& parser) { parser.feed(bytes); });
    }

    void gap(std::uint64_t length) override {
        with_parser([&](auto& parser) { parser.gap(length); });
    }

    void finish(bool whole) override {
        TagFile& tag = state_.files.at(file_);
        if (!whole && tag.role == Role::manifest)
            state_.bag.manifests_[tag.manifest].manifest.set_torn();
        if (auto* companion = std::get_if<CompanionParser>(&parser_)) {
            const auto value = companion->finish();
            const std::lock_guard lock(state_.mutex);
            if (value && whole)
                state_.bag.companions_.push_back(
                    {tag.companion_of, tag.companion_algorithm, *value});
        } else {
            with_parser([](auto& parser) { parser.finish(); });
        }
        if (whole) state_.keep_digests(file_, algorithms_, hashers_.finish());
        const std::lock_guard lock(state_.mutex);
        tag.read = true;
    }

  private:
    template <typename Do>
    void with_parser(Do&& work) {
        std::visit(
            [&](auto& parser) {
                if constexpr (!std::is_same_v<std::decay_t<decltype(parser)>, std::monostate>)
                    work(parser);
            },
            parser_);
    }

    State& state_;
    Listing::Index file_;
    std::vector<Algorithm> algorithms_;
    digest::HasherSet hashers_;
    std::variant<std::monostate, BagInfoParser, FetchParser, ManifestParser, CompanionParser>
        parser_;
};

BagLoader::BagLoader(Listing listing, LoadOptions options) : state_(std::make_unique<State>()) {
    state_->options = options;
    state_->bag.listing_ = std::move(listing);
    state_->bag.log_ = FindingsLog(options.most_findings);
}

BagLoader::~BagLoader() = default;

const Listing& BagLoader::listing() const {
    return state_->bag.listing_;
}

void BagLoader::report(Finding finding) {
    state_->report(std::move(finding));
}

void BagLoader::report_unseen(Finding finding) {
    state_->report(std::move(finding));
    state_->bag.log_.mark_incomplete();
}

void BagLoader::declare(std::optional<std::string_view> content, bool whole) {
    Bag& bag = state_->bag;
    bag.declaration_.encoding = encoding_named("UTF-8");
    if (content) {
        std::vector<Finding> findings;
        bag.declaration_ = parse_declaration(*content, findings);
        for (Finding& finding : findings)
            state_->report(std::move(finding));
        bag.rules_ = &rules_for(bag.declaration_.version);
    }
    state_->find_tag_files();
    const Listing::Index file = bag.listing_.find(declaration_file);
    if (!content || !whole || file == Listing::none) return;
    for (const Algorithm algorithm : state_->algorithms_for(declaration_file))
        bag.tag_digests_.push_back({file, algorithm, digest::digest_of(algorithm, *content)});
}

const std::vector<Listing::Index>& BagLoader::tag_files() const {
    return state_->order;
}

std::unique_ptr<TagReader> BagLoader::read(Listing::Index file) {
    return std::make_unique<Reader>(*state_, file);
}

void BagLoader::State::find_tag_files() {
    const Listing& listing = bag.listing_;
    for (const auto& [name, role] : {std::pair(bag.rules_->metadata_file, Role::metadata),
                                     std::pair(fetch_file, Role::fetch)}) {
        const Listing::Index file = listing.find(name);
        if (file != Listing::none && listing.is_file(file)) files.emplace(file, TagFile{role});
    }
    add_manifests();
    if (bag.rules_->checksum_companions) add_companions();
    choose_algorithms();
    for (const auto& [file, tag] : files)
        order.push_back(file);
}

void BagLoader::State::add_manifests() {
    std::vector<std::pair<ManifestName, Listing::Index>> named;
    for (Listing::Index i = 0; i < bag.listing_.size(); ++i)
        if (bag.listing_.is_file(i))
            if (auto name = manifest_name(bag.listing_[i].name))
                named.emplace_back(std::move(*name), i);
    std::ranges::sort(named, {}, [this](const auto& n) {
        return std::pair(n.first.kind, bag.listing_[n.second].name);
    });
    for (auto& [name, file] : named) {
        files.emplace(file, TagFile{Role::manifest, bag.manifests_.size()});
        bag.manifests_.push_back(
            {Manifest(std::string(bag.listing_[file].name), std::move(name)), {}, {}, {}});
    }
}

void BagLoader::State::add_companions() {
    for (Listing::Index i = 0; i < bag.listing_.size(); ++i) {
        const Listing::Entry entry = bag.listing_[i];
        if (!bag.listing_.is_file(i) || entry.name.find('/') != std::string_view::npos) continue;
        const auto name = companion_name(entry.name);
        if (!name) continue;
        const Listing::Index of = bag.listing_.find(name->of);
        if (of != Listing::none && bag.listing_.is_file(of))
            files.emplace(i, TagFile{Role::companion, 0, of, name->algorithm});
    }
}

void BagLoader::State::choose_algorithms() {
    std::set<Algorithm> wanted;
    const bool payload_too = bag.rules_->tag_file_in_payload_manifest != Severity::damage;
    for (const Bag::Matched& m : bag.manifests_) {
        const ManifestName& name = m.manifest.name();
        if (name.computable && (name.kind == ManifestKind::tag || payload_too))
            wanted.insert(*name.computable);
    }
    for (const auto& [file, tag] : files)
        if (tag.role == Role::companion) wanted.insert(tag.companion_algorithm);
    algorithms.assign(wanted.begin(), wanted.end());
}

std::vector<Algorithm> BagLoader::State::algorithms_for(std::string_view name) const {
    std::vector<Algorithm> out;
    if (options.digests) out = algorithms;
    const bool seal = name == manifest_file(ManifestKind::tag, Algorithm::sha512);
    if (seal && std::ranges::find(out, Algorithm::sha512) == out.end())
        out.push_back(Algorithm::sha512);
    return out;
}

/// As many entries as there can be files, and some that are missing: a manifest without end fills
/// no memory.
ManifestRoom BagLoader::State::manifest_room() const {
    const bool fetched = bag.listing_.find(fetch_file) != Listing::none;
    const std::uint64_t missing =
        std::max<std::uint64_t>(options.most_findings, fetched ? 1'000'000 : 100'000);
    return {bag.listing_.size() + missing, bag.listing_.name_bytes() * 2 + missing * 256};
}

void BagLoader::State::judge() {
    for (auto& [file, tag] : files) {
        if (tag.read) continue;
        report(found(FindingKind::unreadable, std::string(bag.listing_[file].name),
                     "it was not read"));
        if (tag.role == Role::manifest) bag.manifests_[tag.manifest].manifest.set_torn();
    }
    for (Bag::Matched& m : bag.manifests_) {
        match(m, bag.listing_, *bag.rules_, bag.declaration_.encoding, bag.log_);
        const Listing::Index own = bag.listing_.find(m.manifest.file());
        m.entry_of[own] = 0;  // no manifest can hold its own checksum; told elsewhere
        if (m.manifest.name().kind == ManifestKind::payload)
            check_payload_entries(m, *bag.rules_, bag.log_);
    }
    const auto torn = [](const Bag::Matched& m) { return m.manifest.torn(); };
    if (std::ranges::any_of(bag.manifests_, torn)) bag.log_.mark_incomplete();
    check_manifests(bag, bag.log_);
    check_tag_manifests(bag, bag.log_);
    bag.missing_ = find_missing(bag, bag.log_);
    bag.unlisted_ = find_unlisted(bag, bag.log_);
    check_fetch(bag, bag.log_);
    check_oxum(bag, bag.log_);
    check_layout(bag, bag.log_);
    check_names(bag.listing_, bag.log_);
}

Bag BagLoader::finish() {
    state_->judge();
    const std::string seal = manifest_file(ManifestKind::tag, Algorithm::sha512);
    const Listing::Index file = state_->bag.listing_.find(seal);
    for (const Bag::FileDigest& digest : state_->bag.tag_digests_)
        if (digest.file == file && digest.algorithm == Algorithm::sha512)
            state_->bag.seal_ = digest.value.hex();
    return std::move(state_->bag);
}

}  // namespace glassine::bagit
