#pragma once

#include "flow/part_sender.h"
#include "glassine/digest/digest.h"
#include "glassine/store/client.h"

#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace glassine::flow {

/// What an interrupted run left of one object.
struct Leftover {
    std::optional<store::ObjectInfo> object;
    std::string upload;  ///< its id; empty: none
    std::map<unsigned, store::Part> parts;
};

/// One object on its way: bytes come in order from one thread at a time, parts go out on the
/// sender's threads. Every byte is compared with what a former run left before it is sent.
class ObjectUpload : public std::enable_shared_from_this<ObjectUpload> {
  public:
    struct Ending {
        std::string etag;  ///< what the store's is, where it makes them of MD5
        /// The bytes have to be brought again: memory ran out, or what a former run left turned out
        /// to be something else.
        bool left_out = false;
        std::optional<Error> failure;
    };
    /// Called once, on one of the sender's threads or, for what was left out, the caller's.
    using Done = std::function<void(ObjectUpload&, const Ending&)>;

    /// `size`: as expected, decides on the size of parts. `may_leave_out`: rather than wait for
    /// memory.
    ObjectUpload(store::Client& client, PartSender& sender, store::Address address,
                 std::uint64_t size, store::PutOptions options, Leftover leftover,
                 bool may_leave_out, Done done);
    ~ObjectUpload();
    ObjectUpload(const ObjectUpload&) = delete;
    ObjectUpload& operator=(const ObjectUpload&) = delete;

    void append(std::span<const std::byte> bytes);
    /// After the last byte. `whole`: false leaves the object unfinished.
    void finish(bool whole);

    const store::Address& address() const { return address_; }
    /// What the store has of it now; when everything under way is done.
    Leftover take_leftover();

  private:
    bool make_room();
    void drop_buffer();
    void send_part();
    void send_whole();
    void settle(std::uint64_t bytes);
    void put_part(unsigned number, const std::string& content);
    void complete();
    bool is_done_already() const { return leftover_.object.has_value(); }
    std::string upload_id();
    std::string composite() const;
    template <typename Work>
    void guarded(Work work);

    store::Client& client_;
    PartSender& sender_;
    store::Address address_;
    std::uint64_t expected_;
    store::PutOptions options_;
    Leftover leftover_;
    bool may_leave_out_;
    Done done_;
    std::uint64_t part_size_;

    // Touched by whoever brings the bytes.
    std::string buffer_;
    std::uint64_t reserved_ = 0;
    std::uint64_t taken_ = 0;
    unsigned submitted_ = 0;
    bool left_out_ = false;

    mutable std::mutex mutex_;  ///< guards what follows
    std::mutex beginning_;
    std::map<unsigned, store::Part> sent_;
    std::map<unsigned, digest::Value> sums_;
    std::size_t under_way_ = 0;
    bool closed_ = false;
    bool whole_ = true;
    bool ended_ = false;
    std::optional<Error> failure_;
};

}  // namespace glassine::flow
