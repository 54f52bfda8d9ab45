#include "flow/object_upload.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::flow {
namespace {

using digest::Algorithm;

std::span<const std::byte> bytes_of(const std::string& text) {
    return std::as_bytes(std::span(text));
}

}  // namespace

ObjectUpload::ObjectUpload(store::Client& client, PartSender& sender, store::Address address,
                           std::uint64_t size, store::PutOptions options, Leftover leftover,
                           bool may_leave_out, Done done)
    : client_(client),
      sender_(sender),
      address_(std::move(address)),
      expected_(size),
      options_(options),
      leftover_(std::move(leftover)),
      may_leave_out_(may_leave_out),
      done_(std::move(done)),
      part_size_(store::part_size_for(size, client.settings().part_size)) {
    if (leftover_.object && leftover_.object->size != size) leftover_.object.reset();
}

ObjectUpload::~ObjectUpload() {
    drop_buffer();
}

void ObjectUpload::append(std::span<const std::byte> bytes) {
    {
        const std::lock_guard lock(mutex_);
        if (failure_) throw Error(*failure_);
    }
    while (!bytes.empty() && !left_out_) {
        if (buffer_.size() == part_size_) send_part();
        if (reserved_ == 0 && !make_room()) return;
        const auto now = bytes.first(std::min<std::size_t>(
            bytes.size(), static_cast<std::size_t>(part_size_) - buffer_.size()));
        buffer_.append(reinterpret_cast<const char*>(now.data()), now.size());
        bytes = bytes.subspan(now.size());
        taken_ += now.size();
    }
}

void ObjectUpload::finish(bool whole) {
    if (whole && !left_out_) {
        if (submitted_ == 0)
            send_whole();
        else if (!buffer_.empty())
            send_part();
    }
    drop_buffer();
    {
        const std::lock_guard lock(mutex_);
        closed_ = true;
        whole_ = whole;
        ++under_way_;
    }
    settle(0);
}

/// Memory for one more part, of what is still expected; false: there is none, and nobody waits.
bool ObjectUpload::make_room() {
    const std::uint64_t rest = expected_ > taken_ ? expected_ - taken_ : part_size_;
    const std::uint64_t wanted = std::min(rest, part_size_);
    if (!may_leave_out_) {
        sender_.reserve(wanted);
    } else if (!sender_.try_reserve(wanted)) {
        left_out_ = true;
        return false;
    }
    reserved_ = wanted;
    buffer_.reserve(static_cast<std::size_t>(wanted));
    return true;
}

void ObjectUpload::drop_buffer() {
    if (reserved_ > 0) sender_.release(std::exchange(reserved_, 0));
    buffer_ = {};
}

void ObjectUpload::send_part() {
    {
        const std::lock_guard lock(mutex_);
        ++under_way_;
    }
    const unsigned number = ++submitted_;
    sender_.submit([self = shared_from_this(), number, content = std::move(buffer_),
                    reserved = std::exchange(reserved_, 0)] {
        self->guarded([&] { self->put_part(number, content); });
        self->settle(reserved);
    });
    buffer_ = {};
}

void ObjectUpload::send_whole() {
    {
        const std::lock_guard lock(mutex_);
        ++under_way_;
    }
    sender_.submit([self = shared_from_this(), content = std::move(buffer_),
                    reserved = std::exchange(reserved_, 0)] {
        self->guarded([&] {
            const store::Body body(bytes_of(content));
            const auto& left = self->leftover_.object;
            if (!left || left->etag != body.md5.hex())
                self->client_.put(self->address_, body, self->options_);
            const std::lock_guard lock(self->mutex_);
            self->sums_.emplace(0, body.md5);
        });
        self->settle(reserved);
    });
    buffer_ = {};
}

void ObjectUpload::put_part(unsigned number, const std::string& content) {
    const store::Body body(bytes_of(content));
    store::Part part{number, content.size(), body.md5.hex()};
    const auto standing = leftover_.parts.find(number);
    const bool there = standing != leftover_.parts.end() && standing->second.size == part.size &&
                       standing->second.etag == part.etag;
    if (!is_done_already() && !there)
        part.etag = client_.put_part(address_, upload_id(), number, body);
    const std::lock_guard lock(mutex_);
    sent_.emplace(number, std::move(part));
    sums_.emplace(number, body.md5);
}

std::string ObjectUpload::upload_id() {
    const std::lock_guard lock(beginning_);
    if (leftover_.upload.empty()) leftover_.upload = client_.begin_upload(address_, options_);
    return leftover_.upload;
}

/// One thing less is under way: the last one of a closed object ends it.
void ObjectUpload::settle(std::uint64_t bytes) {
    if (bytes > 0) sender_.release(bytes);
    {
        const std::lock_guard lock(mutex_);
        if (--under_way_ > 0 || !closed_ || ended_) return;
        ended_ = true;
    }
    guarded([&] { complete(); });
    Ending ending;
    {
        const std::lock_guard lock(mutex_);
        ending.failure = failure_;
        ending.etag = composite();
    }
    ending.left_out = left_out_;
    done_(*this, ending);
}

void ObjectUpload::complete() {
    const bool by_parts = submitted_ > 0;
    {
        const std::lock_guard lock(mutex_);
        if (failure_ || !whole_ || left_out_ || !by_parts) return;
    }
    if (is_done_already()) {
        if (leftover_.object->etag == composite()) return;
        // It is not what a run for these bytes would have left; they have to be brought again.
        leftover_.object.reset();
        left_out_ = true;
        return;
    }
    std::vector<store::Part> parts;
    for (const auto& [number, part] : sent_)
        parts.push_back(part);
    client_.complete_upload(address_, upload_id(), parts);
}

/// What stores make of MD5: that of the bytes, or of the parts' sums one behind the other.
std::string ObjectUpload::composite() const {
    if (sums_.empty()) return {};
    if (sums_.contains(0)) return sums_.at(0).hex();
    digest::Hasher all(Algorithm::md5);
    for (const auto& [number, sum] : sums_)
        all.update(sum.bytes());
    return fmt::format("{}-{}", all.finish().hex(), sums_.size());
}

Leftover ObjectUpload::take_leftover() {
    const std::lock_guard lock(mutex_);
    Leftover now = leftover_;
    for (const auto& [number, part] : sent_)
        now.parts.insert_or_assign(number, part);
    return now;
}

template <typename Work>
void ObjectUpload::guarded(Work work) {
    {
        const std::lock_guard lock(mutex_);
        if (failure_) return;
    }
    try {
        work();
    } catch (const Error& error) {
        const std::lock_guard lock(mutex_);
        if (!failure_) failure_ = error;
    }
}

}  // namespace glassine::flow
