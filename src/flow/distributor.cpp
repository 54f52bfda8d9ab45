#include "glassine/flow/distributor.h"

#include "flow/block_pool.h"
#include "flow/executor.h"

#include <algorithm>
#include <deque>
#include <optional>
#include <thread>
#include <utility>

namespace glassine::flow {

/// One file on its way through all sinks.
class Distributor::File : public std::enable_shared_from_this<Distributor::File> {
  public:
    Item item;
    Outcome outcome;                                 ///< set before the close is handed over
    std::vector<std::shared_ptr<class Lane>> lanes;  ///< one for each sink
    std::vector<std::unique_ptr<Stream>> streams;    ///< each touched by its lane only
    std::atomic<std::size_t> unfinished{0};          ///< lanes that have not seen the close
};

namespace {

/// A sink and what became of it.
struct Channel {
    Sink* sink = nullptr;
    std::size_t index = 0;
    std::atomic<bool> failed{false};
    std::optional<Error> error;    ///< guarded by the state's mutex
    std::shared_ptr<Lane> shared;  ///< for sinks that take one file at a time
};

struct Message {
    enum class What { open, block, gap, close } what;
    std::shared_ptr<Distributor::File> file;
    BlockSlot* slot = nullptr;
    std::uint64_t offset = 0;
    std::uint64_t length = 0;
};

/// So many messages a lane does in one go; then others get their turn.
constexpr int turn = 8;
/// So many files may be on their way at once: each may hold an open file at every destination.
constexpr std::size_t files_on_the_way = 128;

}  // namespace

struct DistributorState {
    explicit DistributorState(Resources r)
        : resources(r), pool(r.blocks, r.block_size), executor(r.threads) {}

    Resources resources;
    std::vector<std::unique_ptr<Channel>> channels;
    BlockPool pool;

    std::mutex mutex;
    std::condition_variable file_done;
    std::size_t on_the_way = 0;

    Executor executor;  ///< last: its threads end before what they use

    void fail(Channel& channel, Error error);
    void lane_done(Distributor::File& file);
};

/// The messages of one file for one sink (or of all files, for a sink that takes one at a time),
/// handled in order, by one thread at a time.
class Lane : public Task, public std::enable_shared_from_this<Lane> {
  public:
    Lane(DistributorState& state, Channel& channel) : state_(state), channel_(channel) {}

    void push(Message message) {
        {
            const std::lock_guard lock(mutex_);
            messages_.push_back(std::move(message));
            if (scheduled_) return;
            scheduled_ = true;
        }
        state_.executor.submit(shared_from_this());
    }

    bool run() override {
        for (int i = 0; i < turn; ++i) {
            Message message;
            {
                const std::lock_guard lock(mutex_);
                if (messages_.empty()) {
                    scheduled_ = false;
                    return false;
                }
                message = std::move(messages_.front());
                messages_.pop_front();
            }
            handle(message);
        }
        return true;
    }

  private:
    void handle(Message& message) {
        std::unique_ptr<Stream>& stream = message.file->streams[channel_.index];
        if (channel_.failed) {
            stream.reset();
        } else {
            try {
                deliver(message, stream);
            } catch (const Error& error) {
                stream.reset();
                state_.fail(channel_, error);
            } catch (const std::exception& error) {
                stream.reset();
                state_.fail(channel_,
                            Error(Cause::other, "handle", message.file->item.name, error.what()));
            }
        }
        if (message.slot != nullptr) message.slot->release();
        if (message.what == Message::What::close) {
            stream.reset();
            state_.lane_done(*message.file);
        }
    }

    void deliver(Message& message, std::unique_ptr<Stream>& stream) {
        switch (message.what) {
            case Message::What::open:
                stream = channel_.sink->open(message.file->item);
                return;
            case Message::What::block:
                if (stream)
                    stream->block(message.offset,
                                  {message.slot->memory, static_cast<std::size_t>(message.length)});
                return;
            case Message::What::gap:
                if (stream) stream->gap(message.offset, message.length);
                return;
            case Message::What::close:
                if (stream) stream->finish(message.file->outcome);
                return;
        }
    }

    DistributorState& state_;
    Channel& channel_;
    std::mutex mutex_;
    std::deque<Message> messages_;
    bool scheduled_ = false;
};

void DistributorState::fail(Channel& channel, Error error) {
    const std::lock_guard lock(mutex);
    if (!channel.error) channel.error = std::move(error);
    channel.failed = true;
}

void DistributorState::lane_done(Distributor::File& file) {
    if (file.unfinished.fetch_sub(1) != 1) return;
    const std::lock_guard lock(mutex);
    --on_the_way;
    file_done.notify_all();
}

Distributor::Block::Block(Block&& other) noexcept : slot_(std::exchange(other.slot_, nullptr)) {}

Distributor::Block& Distributor::Block::operator=(Block&& other) noexcept {
    std::swap(slot_, other.slot_);
    return *this;
}

Distributor::Block::~Block() {
    if (slot_ != nullptr) slot_->release();
}

std::span<std::byte> Distributor::Block::bytes() const {
    return {slot_->memory, slot_->size};
}

Distributor::Distributor(std::span<Sink* const> sinks, Resources resources) {
    if (resources.threads == 0)
        resources.threads = std::max(1u, std::thread::hardware_concurrency());
    state_ = std::make_unique<DistributorState>(resources);
    for (Sink* sink : sinks) {
        auto channel = std::make_unique<Channel>();
        channel->sink = sink;
        channel->index = state_->channels.size();
        if (sink->one_at_a_time()) channel->shared = std::make_shared<Lane>(*state_, *channel);
        state_->channels.push_back(std::move(channel));
    }
}

Distributor::~Distributor() {
    wait();
}

Distributor::Block Distributor::acquire() {
    Block block;
    block.slot_ = state_->pool.try_take();
    while (block.slot_ == nullptr) {
        block.slot_ = state_->executor.help() ? state_->pool.try_take() : state_->pool.take();
    }
    return block;
}

std::shared_ptr<Distributor::File> Distributor::open(Item item) {
    {
        std::unique_lock lock(state_->mutex);
        state_->file_done.wait(lock, [this] { return state_->on_the_way < files_on_the_way; });
        ++state_->on_the_way;
    }
    auto file = std::make_shared<File>();
    file->item = std::move(item);
    file->streams.resize(state_->channels.size());
    // One more than the lanes: `close` takes it back, so that a file without sinks is done then.
    file->unfinished = state_->channels.size() + 1;
    for (const auto& channel : state_->channels) {
        file->lanes.push_back(channel->shared ? channel->shared
                                              : std::make_shared<Lane>(*state_, *channel));
        file->lanes.back()->push({Message::What::open, file, nullptr, 0, 0});
    }
    return file;
}

void Distributor::push(File& file, Block block, std::uint64_t offset, std::size_t length) {
    // The lanes keep the file alive through the messages that they hold; `open` gave out the first
    // pointer.
    BlockSlot* slot = std::exchange(block.slot_, nullptr);
    slot->users.fetch_add(static_cast<unsigned>(file.lanes.size()), std::memory_order_relaxed);
    for (const auto& lane : file.lanes)
        lane->push({Message::What::block, file.shared_from_this(), slot, offset, length});
    slot->release();
}

void Distributor::gap(File& file, std::uint64_t offset, std::uint64_t length) {
    for (const auto& lane : file.lanes)
        lane->push({Message::What::gap, file.shared_from_this(), nullptr, offset, length});
}

void Distributor::close(File& file, Outcome outcome) {
    file.outcome = std::move(outcome);
    for (const auto& lane : file.lanes)
        lane->push({Message::What::close, file.shared_from_this(), nullptr, 0, 0});
    state_->lane_done(file);
}

void Distributor::wait() {
    std::unique_lock lock(state_->mutex);
    state_->file_done.wait(lock, [this] { return state_->on_the_way == 0; });
}

bool Distributor::wait_for(std::chrono::milliseconds time) {
    std::unique_lock lock(state_->mutex);
    return state_->file_done.wait_for(lock, time, [this] { return state_->on_the_way == 0; });
}

bool Distributor::all_failed() const {
    return !state_->channels.empty() &&
           std::ranges::all_of(state_->channels,
                               [](const auto& channel) { return channel->failed.load(); });
}

std::vector<SinkFailure> Distributor::failures() const {
    const std::lock_guard lock(state_->mutex);
    std::vector<SinkFailure> out;
    for (const auto& channel : state_->channels)
        if (channel->error) out.push_back({channel->sink, *channel->error});
    return out;
}

}  // namespace glassine::flow
