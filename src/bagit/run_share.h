#pragma once

#include "glassine/bagit/listing.h"
#include "glassine/flow/river.h"

#include <algorithm>

namespace glassine::bagit {

/// A check reads in two runs, tag files and payload; whoever watches sees one.
class RunShare {
  public:
    /// What is read in all, unless a manifest turns out to list less.
    void expect(const Listing& listing) {
        for (Listing::Index i = 0; i < listing.size(); ++i) {
            if (!listing.is_file(i)) continue;
            ++total_files_;
            total_bytes_ += listing[i].size;
        }
    }
    void done(std::uint64_t bytes, std::uint64_t files) {
        bytes_ += bytes;
        files_ += files;
    }
    /// A run's progress as part of the whole.
    flow::Progress of_all(flow::Progress run) const {
        run.bytes += bytes_;
        run.files += files_;
        run.total_bytes = std::max(total_bytes_, run.bytes);
        run.total_files = std::max(total_files_, run.files);
        if (run.rate > 0)
            run.seconds_left = static_cast<double>(run.total_bytes - run.bytes) / run.rate;
        return run;
    }

  private:
    std::uint64_t total_bytes_ = 0;
    std::uint64_t total_files_ = 0;
    std::uint64_t bytes_ = 0;
    std::uint64_t files_ = 0;
};

class ShareObserver : public flow::Observer {
  public:
    ShareObserver(flow::Observer* target, const RunShare& share) : target_(target), share_(share) {}
    void progress(const flow::Progress& progress) override {
        target_->progress(share_.of_all(progress));
    }
    void read_error(const flow::ReadError& error) override { target_->read_error(error); }

  private:
    flow::Observer* target_;
    const RunShare& share_;
};

}  // namespace glassine::bagit
