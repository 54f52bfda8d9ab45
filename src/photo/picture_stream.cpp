#include "photo/picture_stream.h"

#include "photo/metadata.h"
#include "photo/within.h"

#include <algorithm>
#include <new>
#include <utility>

#include <fmt/format.h>

namespace glassine::photo {

namespace {

/// Enough to tell every kind by its first bytes.
/// Segments before the first scan that are looked through while they come; cameras write some 100
/// KB.
constexpr std::size_t longest_jpeg_head = std::size_t{4} << 20;
/// Larger files are not kept in memory for anything.
constexpr std::uint64_t most_kept = std::uint64_t{1} << 30;

Examined undecided(Kind kind, std::string why) {
    Examined out;
    out.picture.kind = kind;
    out.picture.why = std::move(why);
    return out;
}

Examined examine_safely(Bytes bytes, const flow::Item& item, const Wishes& wishes, Budget& budget) {
    try {
        return examine_within(bytes, item.name, wishes, &budget);
    } catch (const std::bad_alloc&) {
        return undecided(kind_of(bytes.first(std::min(bytes.size(), head_size)), item.name),
                         "there is not enough memory to decode it");
    }
}

}  // namespace

PictureStream::PictureStream(StreamOwner& owner, const flow::Item& item)
    : owner_(owner), item_(item), wishes_(owner.wishes(item)) {}

void PictureStream::block(std::uint64_t, Bytes bytes) {
    switch (mode_) {
        case Mode::head:
            bytes_.insert(bytes_.end(), bytes.begin(), bytes.end());
            look_at_head();
            return;
        case Mode::streaming:
            decoder_->feed(bytes);
            return;
        case Mode::keeping:
            take_more(bytes);
            return;
        case Mode::put_off:
            hasher_->update(bytes);
            return;
        case Mode::passing:
            return;
    }
}

void PictureStream::gap(std::uint64_t, std::uint64_t) {
    // The outcome says what is missing; there is nothing left to decide about the picture.
    mode_ = Mode::passing;
    decoder_.reset();
    leases_.clear();
}

void PictureStream::look_at_head() {
    if (bytes_.size() < head_size) return;
    kind_ = kind_of(Bytes(bytes_).first(head_size), item_.name);
    if (kind_ == Kind::other) {
        mode_ = Mode::passing;
        bytes_.clear();
        return;
    }
    if (kind_ != Kind::jpeg) return keep();
    switch (jpeg_head_.advance(bytes_)) {
        case JpegHead::State::more:
            if (bytes_.size() > longest_jpeg_head) keep();
            return;
        case JpegHead::State::ready:
            return jpeg_head_.needs_whole() ? keep() : start_streaming();
        case JpegHead::State::odd:
            return keep();
    }
}

void PictureStream::start_streaming() {
    mode_ = Mode::streaming;
    decoder_ = std::make_unique<JpegDecoder>(wishes_.thumbnail_edge);
    decoder_->feed(bytes_);
    // The segments before the scan are the metadata; an end mark makes them a file that ends well.
    bytes_.resize(jpeg_head_.scan_offset());
    bytes_.insert(bytes_.end(), {std::byte{0xFF}, std::byte{0xD9}});
    bytes_.shrink_to_fit();
}

void PictureStream::keep() {
    const std::uint64_t expected = std::max<std::uint64_t>(item_.size, bytes_.size());
    if (expected > most_kept) {
        mode_ = Mode::passing;
        bytes_.clear();
        return;
    }
    mode_ = Mode::keeping;
    auto lease = owner_.budget.try_keep(expected);
    if (!lease) return give_up_keeping();
    leases_.push_back(std::move(*lease));
    leased_ = expected;
    bytes_.reserve(expected);
}

void PictureStream::take_more(Bytes bytes) {
    const std::size_t size = bytes_.size() + bytes.size();
    if (size > leased_) {
        // The file is longer than it was when it was listed.
        auto lease = owner_.budget.try_keep(size - leased_);
        if (!lease || size > most_kept) {
            give_up_keeping();
            hasher_->update(bytes);
            return;
        }
        leases_.push_back(std::move(*lease));
        leased_ = size;
    }
    bytes_.insert(bytes_.end(), bytes.begin(), bytes.end());
}

void PictureStream::give_up_keeping() {
    mode_ = Mode::put_off;
    hasher_.emplace(digest::Algorithm::sha256);
    hasher_->update(bytes_);
    bytes_ = {};
    leases_.clear();
}

Examined PictureStream::examine_streamed() {
    Picture picture;
    picture.kind = Kind::jpeg;
    read_metadata(bytes_, picture);
    return conclude(std::move(picture), decoder_->finish());
}

Examined PictureStream::not_read(const flow::Outcome& outcome) {
    Examined out = undecided(kind_, outcome.why);
    if (kind_ == Kind::other) out.picture.kind = kind_of_name(item_.name);
    return out;
}

void PictureStream::finish(const flow::Outcome& outcome) {
    Examined examined;
    if (outcome.status != flow::Status::whole) {
        examined = not_read(outcome);
    } else {
        switch (mode_) {
            case Mode::put_off:
                owner_.put_off({std::move(item_), outcome, hasher_->finish()});
                return;
            case Mode::streaming:
                examined = examine_streamed();
                break;
            case Mode::head:
            case Mode::keeping:
                examined = examine_safely(bytes_, item_, wishes_, owner_.budget);
                break;
            case Mode::passing:
                examined = undecided(kind_, kind_ == Kind::other
                                                ? "not a kind of picture that can be looked into"
                                                : "it is too large to be looked into");
        }
    }
    bytes_ = {};
    decoder_.reset();
    leases_.clear();
    owner_.report(item_, outcome, std::move(examined));
    while (owner_.examine_next_put_off(false)) {
    }
}

void StreamOwner::report(const flow::Item& item, const flow::Outcome& outcome,
                         Examined&& examined) {
    const std::lock_guard lock(report_mutex_);
    report_(item, outcome, std::move(examined));
}

void StreamOwner::put_off(PutOff file) {
    const std::lock_guard lock(queue_mutex_);
    queue_.push_back(std::move(file));
}

std::size_t StreamOwner::put_off_count() {
    const std::lock_guard lock(queue_mutex_);
    return queue_.size();
}

std::optional<PutOff> StreamOwner::take_put_off(bool wait, Budget::Lease& lease) {
    std::optional<PutOff> taken;
    {
        const std::lock_guard lock(queue_mutex_);
        if (queue_.empty()) return std::nullopt;
        if (!wait) {
            auto room = budget.try_keep(queue_.front().outcome.bytes);
            if (!room) return std::nullopt;
            lease = std::move(*room);
        }
        taken = std::move(queue_.front());
        queue_.pop_front();
    }
    if (wait) lease = budget.keep(taken->outcome.bytes);
    return taken;
}

bool StreamOwner::examine_next_put_off(bool wait) {
    Budget::Lease lease;
    const auto file = take_put_off(wait, lease);
    if (!file) return false;
    ++read_again_;
    Examined examined = examine_again(*file);
    lease.release();
    report(file->item, file->outcome, std::move(examined));
    return true;
}

Examined StreamOwner::examine_again(const PutOff& file) {
    const Kind claimed = kind_of_name(file.item.name);
    try {
        const auto input = files_.open(file.item.path, io::Cache::use);
        std::vector<std::byte> bytes(file.outcome.bytes);
        std::size_t got = 0;
        while (got < bytes.size()) {
            const std::size_t n = input->read(got, std::span(bytes).subspan(got));
            if (n == 0) break;
            got += n;
        }
        bytes.resize(got);
        if (digest::digest_of(digest::Algorithm::sha256, Bytes(bytes)) == file.digest)
            return examine_safely(bytes, file.item, wishes(file.item), budget);
        Examined out = undecided(claimed, "it gave other bytes when it was read a second time");
        out.unstable = true;
        return out;
    } catch (const Error& error) {
        return undecided(claimed, error.sentence());
    } catch (const std::bad_alloc&) {
        return undecided(claimed, "there is not enough memory to decode it");
    }
}

}  // namespace glassine::photo
