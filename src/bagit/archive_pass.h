#pragma once

#include "archive_reader.h"
#include "glassine/bagit/archive.h"
#include "glassine/flow/river.h"

#include <chrono>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>

namespace glassine::bagit {

/// One pass over an archive from its beginning, in which the content of chosen members goes to the
/// sinks. What the river is for folders.
class ArchivePass {
  public:
    /// What is to be done with the members; called on the calling thread, in their order.
    struct Wishes {
        /// The item for a member whose content is wanted; nothing for one that is passed over.
        std::function<std::optional<flow::Item>(std::uint32_t ordinal, const RawMember&)> begin;
        /// Every piece of a wanted member (not the zeros of sparse files). May be empty.
        std::function<void(std::span<const std::byte>)> piece;
        /// After a wanted member.
        std::function<void(const flow::Item&, const flow::Outcome&)> end;
        /// Whether nothing more is wanted from this member on. May be empty.
        std::function<bool(std::uint32_t ordinal)> enough;
        /// Before each member and each piece: why the pass must stop here. May be empty.
        std::function<std::optional<Finding>(std::uint64_t unpacked)> limit;
    };

    ArchivePass(ArchiveReader& reader, std::span<flow::Sink* const> sinks,
                const flow::Options& options);

    struct Result {
        flow::Result flow;
        std::uint32_t members = 0;
        std::optional<Finding> limit;  ///< that was met
    };
    /// Ends at the end of the archive, at a fault of it, at a limit, or when stopped.
    Result run(const Wishes& wishes);

  private:
    bool go_on(const Wishes& wishes);
    void member(const Wishes& wishes);
    void content(const Wishes& wishes, flow::Distributor::File& file, flow::Outcome& outcome);
    void append(flow::Distributor::File& file, std::span<const std::byte> bytes);
    bool pad(const Wishes& wishes, flow::Distributor::File& file, std::uint64_t to);
    void hand_over(flow::Distributor::File& file);
    void judge(flow::Outcome& outcome) const;
    void tell();

    ArchiveReader& reader_;
    const flow::Options& options_;
    flow::Distributor distributor_;
    Result result_;
    std::uint64_t unpacked_ = 0;

    flow::Distributor::Block block_;  ///< of the present member
    bool has_block_ = false;
    std::uint64_t begin_ = 0;  ///< of the block in the member
    std::size_t filled_ = 0;
    std::chrono::steady_clock::time_point told_;
    std::chrono::steady_clock::time_point start_;
};

}  // namespace glassine::bagit
