#pragma once

#include "glassine/flow/sink.h"
#include "glassine/io/file_system.h"
#include "glassine/photo/examine.h"

#include <cstddef>
#include <functional>
#include <memory>
#include <mutex>
#include <string>

namespace glassine::photo {

/// Examines pictures in the same read that hashes and copies them.
///
/// A baseline JPEG is decoded block by block as the river brings it and needs little memory,
/// whatever its size. Progressive JPEGs and formats that are read in no fixed order (TIFF, raws,
/// PNG, HEIF) are kept until their end is there. All that is kept and all that decoding takes comes
/// out of one budget for the whole sink. A file for which the budget has no room just then is put
/// off: it is read once more, alone, as soon as there is room (the one exception to "every byte is
/// read once"). A single file larger than the whole budget is examined all the same, with nothing
/// beside it.
///
///     PictureSink pictures(files, [&](const flow::Item& item, const flow::Outcome&, Examined&&
///     what) { … }); river.run(reading, {&digests, &pictures}, options); pictures.complete();
class PictureSink : public flow::Sink {
  public:
    /// Called once for each item, one call at a time, from changing threads. Where the outcome is
    /// not `whole` (gaps, unreadable, vanished …) the verdict is `not_checkable`: the river's
    /// outcome says what happened.
    using Report = std::function<void(const flow::Item&, const flow::Outcome&, Examined&&)>;

    struct Options {
        /// What to make of an item; empty: nothing but its description.
        std::function<Wishes(const flow::Item&)> wishes;
        /// Bytes for files kept and pictures decoded, shared by all items. With the river's own 48
        /// MiB and the program itself this keeps a job of thousands of frames under 256 MiB.
        std::size_t memory = std::size_t{144} << 20;
    };

    PictureSink(io::FileSystem& files, Report report, Options options);
    PictureSink(io::FileSystem& files, Report report)
        : PictureSink(files, std::move(report), Options{}) {}
    ~PictureSink() override;

    std::unique_ptr<flow::Stream> open(const flow::Item& item) override;

    /// Examines what was put off. To be called after the river has run; afterwards every item was
    /// reported.
    void complete();

    /// How many files were read a second time so far.
    std::size_t read_again() const;

  private:
    struct Shared;
    class Taking;
    std::unique_ptr<Shared> shared_;
};

}  // namespace glassine::photo
