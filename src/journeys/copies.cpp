#include "journeys/copies.h"

#include "glassine/base/text.h"
#include "glassine/flow/digest_sink.h"

#include <algorithm>
#include <map>
#include <thread>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

Error interrupted(const std::string& where) {
    return {Cause::interrupted, "finish this copy", where, "it was interrupted",
            "nothing stands under the bag's name there; run the command again"};
}

Error read_back_differently(const flow::Destination& destination,
                            const std::vector<std::string>& names) {
    return {Cause::unreadable, "prove the copy", destination.name(),
            fmt::format("{} read back differently from what was written, the first of them {}",
                        text::counted(names.size(), "file"), names.front()),
            "do not use this drive, cable or port for an archive before it has been tested"};
}

Error checksums_differ(const flow::Destination& destination,
                       const std::vector<std::string>& names) {
    return {Cause::unreadable, "prove the copy", destination.name(),
            fmt::format("the store's checksum of {} is not that of the bytes sent, the first of "
                        "them {}",
                        text::counted(names.size(), "object"), names.front()),
            "run the command again; if the store makes its checksums another way (of encrypted "
            "objects, say), set proof = \"read back\" in the studio file"};
}

void require_all(std::size_t proven, const Expected& expected,
                 const flow::Destination& destination) {
    if (proven != expected.size())
        throw Error(Cause::other, "prove the copy", destination.name(),
                    fmt::format("{} of {} files were written", proven, expected.size()),
                    "run the command again");
}

}  // namespace

void Copies::add(std::unique_ptr<flow::Destination> destination, std::uint64_t device) {
    Made made;
    made.destination = std::move(destination);
    made.device = device;
    copies_.push_back(std::move(made));
}

void Copies::check(const flow::Destination::Need& need) {
    for (const Made& copy : copies_) {
        const auto sharing =
            static_cast<std::uint64_t>(std::ranges::count(copies_, copy.device, &Made::device));
        flow::Destination::Need all = need;
        all.bytes *= sharing;
        all.files *= sharing;
        copy.destination->check(all);
    }
}

void Copies::prepare(Timestamp moment) {
    moment_ = moment;
    const bool any_supply = std::ranges::any_of(
        copies_, [](const Made& copy) { return copy.destination->can_supply(); });
    for (Made& copy : copies_) {
        try {
            if (any_supply) copy.destination->allow_lag();
            copy.destination->prepare();
        } catch (const Error& error) {
            fail(copy, error);
        }
    }
}

std::vector<flow::Sink*> Copies::sinks() {
    std::vector<flow::Sink*> sinks;
    for (Made& copy : copies_)
        if (!copy.failure) sinks.push_back(&copy.destination->sink());
    return sinks;
}

void Copies::note_failures(std::span<const flow::SinkFailure> failures) {
    for (const flow::SinkFailure& failure : failures)
        for (Made& copy : copies_)
            if (&copy.destination->sink() == failure.sink) fail(copy, failure.error);
}

bool Copies::any_alive() const {
    return std::ranges::any_of(copies_, [](const Made& copy) { return !copy.failure; });
}

void Copies::put(std::string_view name, std::string_view content) {
    for (Made& copy : copies_) {
        {
            const std::lock_guard lock(mutex_);
            if (copy.failure) continue;
        }
        try {
            copy.destination->put(name, content, moment_);
        } catch (const Error& error) {
            fail(copy, error);
        }
    }
}

void Copies::fail(Made& copy, const Error& error) {
    const std::lock_guard lock(mutex_);
    if (!copy.failure) copy.failure = error;
}

/// One file into every copy.
class Copies::Broadcasting : public flow::Stream {
  public:
    Broadcasting(Copies& copies, const flow::Item& item) : copies_(copies) {
        for (Made& copy : copies.copies_)
            if (!copy.failure)
                guarded(copy, [&] {
                    streams_.push_back({&copy, copy.destination->sink().open(item)});
                });
    }
    void block(std::uint64_t offset, std::span<const std::byte> bytes) override {
        each([&](flow::Stream& stream) { stream.block(offset, bytes); });
    }
    void finish(const flow::Outcome& outcome) override {
        each([&](flow::Stream& stream) { stream.finish(outcome); });
    }

  private:
    struct Branch {
        Made* copy;
        std::unique_ptr<flow::Stream> stream;
    };

    template <typename Call>
    void guarded(Made& copy, Call call) {
        try {
            call();
        } catch (const Error& error) {
            copies_.fail(copy, error);
        }
    }
    template <typename Call>
    void each(Call call) {
        for (Branch& branch : streams_)
            if (branch.stream && !branch.copy->failure)
                guarded(*branch.copy, [&] { call(*branch.stream); });
    }

    Copies& copies_;
    std::vector<Branch> streams_;
};

class Copies::Broadcast : public flow::Sink {
  public:
    explicit Broadcast(Copies& copies) : copies_(copies) {}
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override {
        flow::Item timed = item;
        if (timed.modified == Timestamp{}) timed.modified = copies_.moment_;
        return std::make_unique<Broadcasting>(copies_, timed);
    }
    bool one_at_a_time() const override { return true; }

  private:
    Copies& copies_;
};

flow::Sink& Copies::all() {
    if (!all_) all_ = std::make_unique<Broadcast>(*this);
    return *all_;
}

std::string Copies::give_back(std::string_view name) {
    for (Made& copy : copies_) {
        if (copy.failure) continue;
        try {
            return copy.destination->give_back(name);
        } catch (const Error& error) {
            fail(copy, error);
        }
    }
    throw Error(Cause::not_found, "read what was written", std::string(name), "no copy is left",
                "run the command again");
}

void Copies::seal(const Context& context, const Expected& expected,
                  std::vector<std::string>& differing) {
    std::map<std::uint64_t, std::vector<Made*>> volumes;
    std::vector<Made*> behind;
    for (Made& copy : copies_) {
        if (copy.failure) continue;
        if (copy.destination->lags())
            behind.push_back(&copy);
        else
            volumes[copy.device].push_back(&copy);
    }
    {
        std::vector<std::jthread> threads;
        threads.reserve(volumes.size());
        for (auto& [device, copies] : volumes)
            threads.emplace_back(
                [&, copies = copies] { seal_volume(copies, context, expected, differing); });
    }
    for (Made* copy : behind) {
        catch_up(*copy, context);
        if (!copy->failure) seal_volume({&copy, 1}, context, expected, differing);
    }
}

void Copies::catch_up(Made& copy, const Context& context) try {
    const auto from = std::ranges::find_if(copies_, [](const Made& other) {
        return other.published && other.destination->can_supply();
    });
    if (from == copies_.end())
        throw Error(Cause::other, "go on sending", copy.destination->name(),
                    "no other copy was sealed that it could be sent from",
                    "run the command again: what is there already is not sent again");
    const auto phase = context.monitor.phase(
        fmt::format("Sending to {}", text::for_terminal(copy.destination->name())));
    flow::Options options;
    options.resources = context.resources;
    options.stop = context.stop;
    options.observer = phase.get();
    copy.destination->catch_up(context.files, from->destination->published_path(), options);
    if (context.stop.stop_requested()) throw interrupted(copy.destination->name());
} catch (const Error& error) {
    fail(copy, error);
}

void Copies::seal_volume(std::span<Made* const> copies, const Context& context,
                         const Expected& expected, std::vector<std::string>& differing) {
    bring_to_medium(*copies.front(), context);
    for (std::size_t i = 0; i < copies.size(); ++i) {
        // What is read back keeps the cores busy, what is brought to the medium only waits for it.
        std::jthread next;
        if (i + 1 < copies.size())
            next = std::jthread([&, copy = copies[i + 1]] { bring_to_medium(*copy, context); });
        if (!copies[i]->failure) seal_one(*copies[i], context, expected, differing);
    }
}

void Copies::bring_to_medium(Made& copy, const Context& context) {
    try {
        const auto phase = context.monitor.phase(fmt::format(
            "Bringing the copy to the medium at {}", text::for_terminal(copy.destination->name())));
        copy.destination->sync();
    } catch (const Error& error) {
        fail(copy, error);
    }
}

void Copies::seal_one(Made& copy, const Context& context, const Expected& expected,
                      std::vector<std::string>& differing) {
    try {
        prove(copy, context, expected, differing);
        if (context.stop.stop_requested()) throw interrupted(copy.destination->name());
        copy.destination->publish();
        copy.published = true;
    } catch (const Error& error) {
        fail(copy, error);
    }
}

void Copies::prove(Made& copy, const Context& context, const Expected& expected,
                   std::vector<std::string>& differing) {
    const auto wrong = copy.destination->compare_checksums();
    if (!wrong) return read_back(copy, context, expected, differing);
    if (!wrong->empty()) {
        const std::lock_guard lock(mutex_);
        differing.insert(differing.end(), wrong->begin(), wrong->end());
        throw checksums_differ(*copy.destination, *wrong);
    }
    require_all(copy.destination->written().size(), expected, *copy.destination);
    copy.how = "store checksum, not read back";
}

void Copies::read_back(Made& copy, const Context& context, const Expected& expected,
                       std::vector<std::string>& differing) {
    flow::Destination& destination = *copy.destination;
    std::size_t proven = 0;
    std::vector<std::string> wrong;
    flow::DigestSink digests({digest::Algorithm::sha512},
                             [&](const flow::Item& item, const std::vector<digest::Value>& values) {
                                 const auto at = expected.find(item.name);
                                 if (at != expected.end() && at->second == values.front())
                                     ++proven;
                                 else
                                     wrong.push_back(item.name);
                             });
    flow::Sink* sinks[] = {&digests};
    flow::Options options;
    options.resources = context.resources;
    options.stop = context.stop;
    std::vector<std::string> unread;
    options.on_item = [&](const flow::Item& item, const flow::Outcome& outcome) {
        if (outcome.status != flow::Status::whole && outcome.status != flow::Status::cancelled)
            unread.push_back(item.name);
    };
    const auto phase = context.monitor.phase(
        fmt::format("Reading back {}", text::for_terminal(destination.name())));
    options.observer = phase.get();
    const flow::Result result = destination.read_back(sinks, options);
    if (result.cancelled) throw interrupted(destination.name());
    wrong.insert(wrong.end(), unread.begin(), unread.end());
    if (!wrong.empty()) {
        const std::lock_guard lock(mutex_);
        differing.insert(differing.end(), wrong.begin(), wrong.end());
        throw read_back_differently(destination, wrong);
    }
    if (!result.sink_failures.empty()) throw result.sink_failures.front().error;
    require_all(proven, expected, destination);
    copy.how = word(result.bypass);
}

void Copies::abandon() {
    for (Made& copy : copies_)
        if (!copy.published) copy.destination->abandon();
}

}  // namespace glassine::journeys
