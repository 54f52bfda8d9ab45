#pragma once

#include "glassine/bagit/bag_info.h"
#include "glassine/bagit/declaration.h"
#include "glassine/bagit/fetch.h"
#include "glassine/bagit/findings_log.h"
#include "glassine/bagit/listing.h"
#include "glassine/bagit/manifest.h"

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace glassine::bagit {

/// A bag as its listing and its tag files describe it: the structural part of a check, without the
/// digests of the payload. The same for folders and archives; made by a `BagLoader`.
///
/// Manifest paths are matched with the listing by bytes, then by text in another Unicode
/// normalisation, then without the marks that checksum tools leave; each way but the first is told
/// as a finding.
class Bag {
  public:
    using Index = Listing::Index;

    /// A manifest and what its entries stand for.
    struct Matched {
        Manifest manifest;
        /// For each entry of the listing: 1 + the number of the manifest entry that lists it; 0:
        /// none.
        std::vector<std::uint32_t> entry_of;
        /// Manifest entries that nothing in the listing answers to, by path.
        std::vector<std::uint32_t> unanswered;
        /// Further entries for a file that is listed more than once: listing index, manifest
        /// entry; ascending.
        std::vector<std::pair<Index, std::uint32_t>> again;
    };

    const Listing& listing() const { return listing_; }
    const Declaration& declaration() const { return declaration_; }
    const Rules& rules() const { return *rules_; }
    const BagInfo& info() const { return info_; }
    const std::vector<FetchEntry>& fetch() const { return fetch_; }
    /// Payload manifests first, each kind by name.
    const std::vector<Matched>& manifests() const { return manifests_; }
    /// SHA-512 of tagmanifest-sha512.txt, in hex: the bag's seal.
    const std::optional<std::string>& seal() const { return seal_; }

    /// The digest that manifests give for a file; nothing when none of that algorithm lists it.
    std::optional<digest::Value> expected(Index file, digest::Algorithm algorithm) const;
    /// The algorithms in which manifests give a digest for the file: what has to be computed.
    std::vector<digest::Algorithm> algorithms(Index file) const;
    /// All of them over all files.
    std::vector<digest::Algorithm> algorithms() const;

    /// A digest of one file.
    struct FileDigest {
        Index file;
        digest::Algorithm algorithm;
        digest::Value value;
    };
    /// Computed while tag files were read for their content.
    const std::vector<FileDigest>& tag_digests() const { return tag_digests_; }
    /// Expected by the files `NAME.ALGORITHM` of 0.93 and 0.94.
    const std::vector<FileDigest>& companions() const { return companions_; }

    /// A path that manifests list and that is not there; the first manifest that gives a digest for
    /// it.
    struct Missing {
        std::uint32_t manifest;
        std::uint32_t entry;
        bool pending;  ///< fetch.txt tells where to get it
    };
    const std::vector<Missing>& missing() const { return missing_; }
    /// Payload files that no payload manifest lists.
    const std::vector<Index>& unlisted() const { return unlisted_; }
    /// A payload manifest could not be read whole: what it does not list proves nothing.
    bool torn() const;

    /// What was found so far. Missing and unlisted payload files are not among it: what became of
    /// them is told when digests are known (`Verdict`).
    const FindingsLog& findings() const { return log_; }
    /// Nothing speaks against "complete" (8493 §3, conditions 1 to 5).
    bool complete() const { return !log_.incomplete(); }

  private:
    friend class BagLoader;
    friend class Verdict;
    Listing listing_;
    Declaration declaration_;
    const Rules* rules_ = &rules_for("1.0");
    BagInfo info_;
    std::vector<FetchEntry> fetch_;
    std::vector<Matched> manifests_;
    std::vector<FileDigest> tag_digests_;
    std::vector<FileDigest> companions_;
    std::vector<Missing> missing_;
    std::vector<Index> unlisted_;
    std::optional<std::string> seal_;
    FindingsLog log_;
};

/// Takes the bytes of one tag file, in order.
class TagReader {
  public:
    virtual ~TagReader() = default;
    virtual void feed(std::span<const std::byte> bytes) = 0;
    /// Bytes that could not be read stand here.
    virtual void gap(std::uint64_t length) = 0;
    /// After the last byte. `whole`: every byte was handed over; else the digest is not kept.
    virtual void finish(bool whole) = 0;
};

struct LoadOptions {
    /// Compute the digests of tag files while they are read (not for a quick look; the seal is
    /// always computed).
    bool digests = true;
    std::size_t most_findings = 100'000;  ///< kept in all; what is more is counted by kind
};

/// Builds a Bag: give it the listing, then bagit.txt, then the bytes of each of `tag_files()`, then
/// take the bag.
///
///     BagLoader loader(std::move(listing), {});
///     loader.declare(content of bagit.txt, or nothing);
///     for (Listing::Index i : loader.tag_files()) { auto r = loader.read(i); r->feed(…);
///     r->finish(true); } Bag bag = loader.finish();
///
/// Readers of different files may run on different threads.
class BagLoader {
  public:
    BagLoader(Listing listing, LoadOptions options);
    ~BagLoader();

    const Listing& listing() const;
    /// Where whoever reads the bag reports what it meets: unreadable folders, archive members met
    /// twice.
    void report(Finding finding);
    /// A folder or a part of the archive could not be looked into: the bag cannot be called
    /// complete.
    void report_unseen(Finding finding);
    /// The content of bagit.txt; nothing when there is none or it cannot be read. Not `whole`: its
    /// beginning only, so that its digest has to come from elsewhere.
    void declare(std::optional<std::string_view> content, bool whole = true);
    /// After `declare`: the tag files that the standard gives a meaning, without bagit.txt; to be
    /// read.
    const std::vector<Listing::Index>& tag_files() const;
    std::unique_ptr<TagReader> read(Listing::Index file);
    /// Matches and judges the structure. A tag file that was not read counts as unreadable.
    Bag finish();

  private:
    struct State;
    class Reader;
    std::unique_ptr<State> state_;
};

}  // namespace glassine::bagit
