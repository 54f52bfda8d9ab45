#include "journeys/right_bytes.h"

#include "glassine/base/text.h"
#include "glassine/recovery/locator.h"
#include "glassine/recovery/rebuilder.h"
#include "glassine/recovery/recovery_set.h"

#include <memory>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

/// Hands rebuilt files on to a sink, as if they had been read.
class ToSink : public recovery::HealedFiles {
  public:
    ToSink(io::FileSystem& files, const io::Path& bag, ProvenFiles& sink,
           const std::set<std::string>& names)
        : files_(files), bag_(bag), sink_(sink), names_(names) {}

    void begin(const std::string& name, std::uint64_t size) override {
        stream_.reset();
        if (!names_.contains(name)) return;
        flow::Item item;
        item.name = name;
        item.size = size;
        // Damage seldom reaches the time; a file that is lost has none.
        if (const auto old = files_.find(bag_ / name)) item.modified = old->modified;
        stream_ = sink_.open(item);
        at_ = 0;
    }
    void bytes(std::span<const std::byte> bytes) override {
        if (stream_) stream_->block(at_, bytes);
        at_ += bytes.size();
    }
    void end(const recovery::Healed&) override {
        if (stream_) stream_->finish({});
        stream_.reset();
    }
    void failed(const std::string&, const std::string&) override { stream_.reset(); }

  private:
    io::FileSystem& files_;
    const io::Path& bag_;
    ProvenFiles& sink_;
    const std::set<std::string>& names_;
    std::unique_ptr<flow::Stream> stream_;
    std::uint64_t at_ = 0;
};

std::set<std::string> not_there(const std::set<std::string>& names, const ProvenFiles& target) {
    std::set<std::string> left;
    for (const std::string& name : names)
        if (!target.has(name)) left.insert(name);
    return left;
}

}  // namespace

std::vector<report::HealedFile> RightBytes::bring(const std::set<std::string>& names,
                                                  ProvenFiles& target,
                                                  const std::vector<flow::Sink*>& further) {
    std::vector<report::HealedFile> healed;
    std::set<std::string> left = not_there(names, target);
    const auto note = [&](const std::string& from) {
        for (const std::string& name : left)
            if (target.has(name)) healed.push_back({name, from, {}});
        left = not_there(left, target);
    };
    for (const io::Path& other : others_) {
        if (left.empty() || context_.stop.stop_requested()) return healed;
        from_copy(other, left, target, further);
        note(other.string());
    }
    if (left.empty() || context_.stop.stop_requested()) return healed;
    from_recovery(left, target);
    note(std::string(from_recovery_data));
    return healed;
}

void RightBytes::from_copy(const io::Path& other, const std::set<std::string>& names,
                           ProvenFiles& target, const std::vector<flow::Sink*>& further) {
    std::vector<flow::Item> items;
    for (const std::string& name : names) {
        const auto info = context_.files.find(other / name);
        if (!info || info->type != io::FileType::regular) continue;
        items.push_back({items.size(), other / name, name, info->size, info->modified, true});
    }
    if (items.empty()) return;
    const auto phase =
        context_.monitor.phase(fmt::format("Taking {} from {}", text::counted(items.size(), "file"),
                                           text::for_terminal(other.string())));
    flow::Options options;
    options.resources = context_.resources;
    options.stop = context_.stop;
    options.observer = phase.get();
    std::vector<flow::Sink*> sinks{&target};
    sinks.insert(sinks.end(), further.begin(), further.end());
    const flow::Result result =
        flow::River(context_.files).run(flow::reading_of(items), sinks, options);
    for (const flow::SinkFailure& failure : result.sink_failures)
        if (failure.sink == &target) throw Error(failure.error);
}

void RightBytes::from_recovery(const std::set<std::string>& names, ProvenFiles& target) {
    // Recovery data of a packed archive cannot be reached by leaps.
    const auto place = context_.files.find(bag_);
    if (!place || place->type != io::FileType::directory) return;
    recovery::RecoverySet set(context_.files, bag_, others_);
    if (set.empty()) return;
    const auto phase = context_.monitor.phase(
        fmt::format("Rebuilding {} from recovery data", text::counted(names.size(), "file")));
    std::vector<std::string> covered;
    for (const std::string& name : names)
        if (set.find(name) != nullptr) covered.push_back(name);
    if (covered.empty()) return;
    auto damages = recovery::locate(context_.files, bag_, set, covered,
                                    [](std::string_view) { return false; });
    if (damages.empty()) return;
    recovery::RebuildOptions options;
    options.others = others_;
    options.stop = context_.stop;
    ToSink receiver(context_.files, bag_, target, names);
    recovery::Rebuilder(context_.files, bag_, set, std::move(damages), options).run(receiver);
}

}  // namespace glassine::journeys
