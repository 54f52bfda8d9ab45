#pragma once

#include "glassine/flow/sink.h"
#include "glassine/job/accounting.h"
#include "glassine/job/layout.h"
#include "glassine/journeys/context.h"
#include "glassine/photo/picture_sink.h"

#include <cstdint>
#include <functional>
#include <map>
#include <mutex>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::journeys {

/// One file for each of a job's files, in their order, to be read unchanged.
std::vector<flow::Item> items_for(std::span<const job::JobFile> files);

/// The single read of a job: digests, pictures and whatever else wants the bytes, at the same time.
class JobReading {
  public:
    /// Small things made of pictures while they are read. Called one at a time, from any thread.
    struct Makings {
        /// For every picture: a small JPEG for the contact sheet.
        std::function<void(std::size_t file, const std::string& jpeg)> thumbnail;
        /// For every rejected raw without one: its proxy, under its name in the bag.
        std::function<void(std::size_t file, const std::string& name, const std::string& jpeg)>
            proxy;
    };

    JobReading(const Context& context, const job::Layout& layout, Makings makings);

    /// Reads `items`; `further` sinks get every byte too. Which of them failed is the result's to
    /// say.
    flow::Result read(std::span<const flow::Item> items, std::span<flow::Sink* const> further,
                      flow::Observer* observer);

    /// By file: what was learnt of each.
    const std::vector<job::Observed>& observed() const { return observed_; }
    /// Files that could not be read, vanished or changed, or read differently a second time.
    const std::vector<Finding>& findings() const { return findings_; }
    /// A source could not be read: the job cannot be sealed, whoever accepts what.
    bool unreadable() const { return unreadable_; }

  private:
    photo::Wishes wishes(const flow::Item& item) const;
    void note_picture(const flow::Item& item, photo::Examined&& examined);
    void note(Finding finding);
    void note_outcome(const flow::Item& item, const flow::Outcome& outcome);

    const Context& context_;
    const job::Layout& layout_;
    Makings makings_;
    std::map<std::size_t, std::string> proxies_;  ///< to be made: by file, their names
    std::vector<job::Observed> observed_;
    std::mutex findings_mutex_;  ///< pictures and outcomes are told on different threads
    std::vector<Finding> findings_;
    bool unreadable_ = false;
};

}  // namespace glassine::journeys
