#pragma once

#include "glassine/flow/sink.h"

#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <utility>

namespace glassine::journeys {

/// Stands before another sink and remembers which files came by: a check of a bag reads neither
/// bagit.txt through the river nor what no manifest lists.
class SeenFiles : public flow::Sink {
  public:
    explicit SeenFiles(flow::Sink& target) : target_(target) {}

    std::unique_ptr<flow::Stream> open(const flow::Item& item) override {
        {
            const std::lock_guard lock(mutex_);
            names_.insert(item.name);
        }
        return target_.open(item);
    }

    bool contains(const std::string& name) const { return names_.contains(name); }

  private:
    flow::Sink& target_;
    std::mutex mutex_;
    std::set<std::string> names_;
};

}  // namespace glassine::journeys
