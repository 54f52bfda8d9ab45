#pragma once

#include "glassine/digest/digest.h"
#include "glassine/photo/picture_sink.h"
#include "photo/budget.h"
#include "photo/jpeg_decoder.h"
#include "photo/jpeg_head.h"

#include <atomic>
#include <deque>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace glassine::photo {

/// A file for which there was no room while it came by.
struct PutOff {
    flow::Item item;
    flow::Outcome outcome;
    digest::Value digest;  ///< SHA-256 of the bytes that came by
};

/// What all streams of one sink share.
class StreamOwner {
  public:
    StreamOwner(io::FileSystem& files, PictureSink::Report report, PictureSink::Options options)
        : budget(options.memory),
          files_(files),
          report_(std::move(report)),
          wishes_(std::move(options.wishes)) {}

    Wishes wishes(const flow::Item& item) const { return wishes_ ? wishes_(item) : Wishes{}; }
    void report(const flow::Item& item, const flow::Outcome& outcome, Examined&& examined);
    void put_off(PutOff file);
    std::size_t put_off_count();
    /// Reads one put-off file again and examines it. False when there is none, or none for which
    /// there is room; with `wait` only when there is none.
    bool examine_next_put_off(bool wait);
    std::size_t read_again() const { return read_again_; }

    Budget budget;

  private:
    std::optional<PutOff> take_put_off(bool wait, Budget::Lease& lease);
    Examined examine_again(const PutOff& file);

    io::FileSystem& files_;
    PictureSink::Report report_;
    std::function<Wishes(const flow::Item&)> wishes_;
    std::mutex report_mutex_;
    std::mutex queue_mutex_;
    std::deque<PutOff> queue_;
    std::atomic<std::size_t> read_again_{0};
};

/// One picture on its way through the river.
class PictureStream : public flow::Stream {
  public:
    PictureStream(StreamOwner& owner, const flow::Item& item);
    void block(std::uint64_t offset, Bytes bytes) override;
    void gap(std::uint64_t offset, std::uint64_t length) override;
    void finish(const flow::Outcome& outcome) override;

  private:
    enum class Mode {
        head,       ///< what it is, or where a JPEG's first scan begins, is not known yet
        streaming,  ///< the decoder takes the bytes
        keeping,    ///< until the end is there
        put_off,    ///< no room: only a digest is made
        passing,    ///< nothing to be done
    };

    void look_at_head();
    void start_streaming();
    void keep();
    void take_more(Bytes bytes);
    void give_up_keeping();
    Examined examine_streamed();
    Examined not_read(const flow::Outcome& outcome);

    StreamOwner& owner_;
    flow::Item item_;
    Wishes wishes_;
    Mode mode_ = Mode::head;
    Kind kind_ = Kind::other;
    std::vector<std::byte> bytes_;  ///< the head, or all so far
    std::vector<Budget::Lease> leases_;
    std::size_t leased_ = 0;
    JpegHead jpeg_head_;
    std::unique_ptr<JpegDecoder> decoder_;
    std::optional<digest::Hasher> hasher_;
};

}  // namespace glassine::photo
