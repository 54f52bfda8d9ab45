#pragma once

#include "glassine/flow/sink.h"
#include "glassine/recovery/layout.h"

#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::recovery {

/// Makes a bag's recovery data in the same read that everything else is made in.
///
///     Encoder encoder(options, payload_names_and_sizes, outputs);      // outputs: writers,
///     digests for (const auto& set : encoder.reading_sets()) river.run(files of the set, {...,
///     &encoder}, ...); encoder.add_tag_files(tag_names_and_sizes);                      // all but
///     the tag manifests for (...) encoder.put(name, content);                            // or
///     through the sink as well for (const auto& file : encoder.finish()) ...                    //
///     for the tag manifest
///
/// Files may come in any order and several at a time, each from its first byte to its last: where a
/// block stands follows from its file's name and size, which are given beforehand. A file that is
/// not in the list is not wanted
/// (`open` gives nullptr).
///
/// When the last block of a window has come, its recovery file goes to all outputs, from the thread
/// that brought the block, one recovery file at a time; the outputs are called directly and must
/// not wait for other files to be read.
///
/// Memory: `window_memory` + `waiting_memory` at most, however big the job. For that, no more than
/// one full window may be open: a job of several windows is read by `reading_sets()`, one after the
/// other.
///
/// Throws Error: `changed` when a file is longer or shorter than listed; `other` when windows are
/// read out of turn or a file comes twice. The same files, sizes and options give the same recovery
/// files byte for byte.
class Encoder : public flow::Sink {
  public:
    /// `payload`: all files below `data/`, in any order. The outputs must outlive the encoder.
    Encoder(const Options& options, std::vector<FileSize> payload,
            std::vector<flow::Sink*> outputs);
    ~Encoder() override;

    std::unique_ptr<flow::Stream> open(const flow::Item& item) override;

    /// The payload's windows, and how to read it.
    const std::vector<Window>& windows() const;
    std::vector<std::vector<std::string_view>> reading_sets() const;
    /// Bytes that the payload's recovery files will have; the tag files' come on top.
    std::uint64_t expected_bytes() const;

    /// Once, after the payload: the tag files to cover, without the tag manifests and recovery
    /// files.
    void add_tag_files(std::vector<FileSize> tags);
    /// A whole small file.
    void put(std::string_view name, std::string_view content);

    /// Closes the recovery data; throws Error when a file did not come, or not whole. What was
    /// written, in order.
    std::vector<FileSize> finish();

  private:
    class Reading;
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace glassine::recovery
