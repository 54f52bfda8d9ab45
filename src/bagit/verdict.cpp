#include "altered.h"
#include "glassine/bagit/check.h"
#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "moved.h"
#include "words.h"

#include <algorithm>
#include <mutex>

#include <fmt/format.h>

namespace glassine::bagit {
namespace {

using enum FindingKind;
using digest::Algorithm;

/// A set of algorithms in one byte: there is one for every file of a bag.
using Mask = std::uint8_t;

Mask mask(Algorithm algorithm) {
    return static_cast<Mask>(1u << static_cast<unsigned>(algorithm));
}

}  // namespace

struct Verdict::State {
    explicit State(Bag loaded) : bag(std::move(loaded)), altered(bag), moved(bag) {}

    Bag bag;
    std::vector<Mask> needed;  ///< algorithms in which a digest of the file is wanted
    std::vector<Mask> known;   ///< those that have arrived
    std::vector<bool> failed;  ///< could not be read; told already
    std::vector<Index> wanted;
    Altered altered;
    Moved moved;
    std::mutex mutex;

    void find_needed();
    void need_unlisted();
    void tell_missing(bool quick);
    void tell_unlisted();
    void tell_unread();
};

Verdict::Verdict(Bag bag) : state_(std::make_unique<State>(std::move(bag))) {
    State& s = *state_;
    s.needed.assign(s.bag.listing().size(), 0);
    s.known.assign(s.bag.listing().size(), 0);
    s.failed.assign(s.bag.listing().size(), false);
    s.find_needed();
    s.need_unlisted();
    for (const Bag::FileDigest& d : s.bag.tag_digests())
        digest(d.file, d.algorithm, d.value);
    for (Index file = 0; file < s.needed.size(); ++file)
        if ((s.needed[file] & ~s.known[file]) != 0) s.wanted.push_back(file);
}

Verdict::~Verdict() = default;

const Bag& Verdict::bag() const {
    return state_->bag;
}

const std::vector<Verdict::Index>& Verdict::wanted() const {
    return state_->wanted;
}

bool Verdict::wants(Index file, Algorithm algorithm) const {
    return (state_->needed[file] & mask(algorithm)) != 0;
}

std::vector<Algorithm> Verdict::algorithms(Index file) const {
    std::vector<Algorithm> out;
    for (const Algorithm algorithm : digest::all_algorithms)
        if (wants(file, algorithm)) out.push_back(algorithm);
    return out;
}

void Verdict::State::find_needed() {
    for (const Bag::Matched& m : bag.manifests()) {
        if (!m.manifest.name().computable) continue;
        const Mask bit = mask(*m.manifest.name().computable);
        for (Index file = 0; file < needed.size(); ++file)
            if (m.entry_of[file] != 0 && bag.listing().is_file(file)) needed[file] |= bit;
    }
    for (const Bag::FileDigest& companion : bag.companions())
        needed[companion.file] |= mask(companion.algorithm);
}

/// A file that is missing may be one of those that no manifest lists, under another name.
void Verdict::State::need_unlisted() {
    Mask bits = 0;
    for (const Bag::Missing& missing : bag.missing()) {
        const Manifest& manifest = bag.manifests()[missing.manifest].manifest;
        if (!missing.pending && in_payload(manifest[missing.entry].path) &&
            !manifest[missing.entry].digest.empty())
            bits |= mask(*manifest.name().computable);
    }
    for (const Index file : bag.unlisted())
        needed[file] |= bits;
}

void Verdict::digest(Index file, Algorithm algorithm, const digest::Value& value) {
    const std::lock_guard lock(state_->mutex);
    if ((state_->known[file] & mask(algorithm)) != 0) return;
    state_->known[file] |= mask(algorithm);
    state_->altered.compare(file, algorithm, value);
    state_->moved.met(file, algorithm, value);
}

void Verdict::report(Finding finding) {
    state_->bag.log_.add(std::move(finding));
}

void Verdict::outcome(Index file, const flow::Outcome& outcome) {
    auto findings = outcome_findings(state_->bag.listing()[file], outcome);
    if (findings.empty()) return;
    {
        const std::lock_guard lock(state_->mutex);
        state_->failed[file] = true;
    }
    for (Finding& finding : findings)
        report(std::move(finding));
}

void Verdict::State::tell_missing(bool quick) {
    for (const Bag::Missing& missing : bag.missing()) {
        const Manifest& manifest = bag.manifests()[missing.manifest].manifest;
        const std::string path = shown_path(manifest[missing.entry].path);
        const bool payload = in_payload(manifest[missing.entry].path);
        if (missing.pending) {
            bag.log_.add(
                found(fetch_pending, path, "fetch.txt tells where to get it; nothing was fetched"));
            continue;
        }
        const Index now = quick || !payload ? Listing::none : moved.find(missing);
        if (now != Listing::none) {
            bag.log_.add(
                found(payload_moved, path,
                      fmt::format("its content stands in “{}” now", bag.listing()[now].name)));
            continue;
        }
        bag.log_.add(found(payload ? payload_missing : tag_missing, path,
                           fmt::format("{} lists it, but it is not there", manifest.file())));
    }
}

void Verdict::State::tell_unlisted() {
    const bool torn = bag.torn();
    for (const Index file : bag.unlisted()) {
        if (moved.used(file)) continue;
        bag.log_.add(found(
            payload_unlisted, torn ? Severity::warning : Severity::damage,
            std::string(bag.listing()[file].name),
            torn ? "no line of a manifest that could be read lists it" : "no manifest lists it"));
    }
}

/// Whatever the reason, a file whose digest never came is not proven.
void Verdict::State::tell_unread() {
    for (const Index file : wanted)
        if ((needed[file] & ~known[file]) != 0 && !failed[file])
            bag.log_.add(found(unreadable, std::string(bag.listing()[file].name),
                               "it was not read to its end"));
}

BagReport Verdict::finish(bool quick, bool stopped) {
    State& s = *state_;
    if (!quick && !stopped) s.tell_unread();
    s.tell_missing(quick || stopped);
    s.tell_unlisted();
    s.altered.tell([this](Finding finding) { report(std::move(finding)); });
    BagReport out;
    out.bagit_version = s.bag.declaration().version;
    out.encoding = s.bag.declaration().encoding.name;
    out.complete = !s.bag.log_.incomplete();
    if (!quick && !stopped) out.valid = out.complete && !s.bag.log_.unproven();
    out.stopped = stopped;
    out.files = s.bag.listing().payload_files();
    out.bytes = s.bag.listing().payload_bytes();
    out.seal = s.bag.seal();
    out.info = s.bag.info().elements();
    out.findings = s.bag.log_.take_sorted();
    return out;
}

}  // namespace glassine::bagit
