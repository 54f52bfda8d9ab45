#pragma once

#include "evidence.h"
#include "glassine/job/accounting.h"
#include "glassine/job/layout.h"

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace glassine::job {

/// The frames of a job while they are being put together, and the ways to find one.
class FrameBook {
  public:
    FrameBook(std::span<const JobFile> files, std::span<const Observed> observed);

    /// Makes a new frame of a file, or adds a file to a frame.
    std::size_t add(std::size_t file);
    void attach(std::size_t frame, std::size_t file);

    const JobFile& file(std::size_t index) const { return files_[index]; }
    const Evidence& evidence(std::size_t file) const { return evidence_[file]; }
    std::size_t file_count() const { return files_.size(); }

    const Frame& frame(std::size_t index) const { return frames_[index]; }
    /// What all files of the frame tell together; that of shot files before that of delivered ones.
    const Evidence& face(std::size_t frame) const { return faces_[frame]; }
    std::size_t frame_count() const { return frames_.size(); }

    /// Frames by the second of their capture, by a stem that one of their files has (its own or
    /// that of its original name), by the folder and stem of a file, or by its whole path. Folded.
    std::span<const std::size_t> at_second(std::int64_t second) const;
    std::span<const std::size_t> with_stem(const std::string& stem) const;
    std::span<const std::size_t> at_place(const std::string& place) const;
    std::string place_of(std::size_t file) const;

    /// The frames in their final state; the book is empty afterwards.
    std::vector<Frame> take_frames() { return std::move(frames_); }
    std::vector<Evidence> take_faces() { return std::move(faces_); }

  private:
    std::vector<std::size_t>& shelf_for(Frame& frame, const JobFile& file) const;
    void learn(std::size_t frame, std::size_t file);

    std::span<const JobFile> files_;
    std::span<const Observed> observed_;
    std::vector<Evidence> evidence_;
    std::vector<Frame> frames_;
    std::vector<Evidence> faces_;
    std::unordered_map<std::int64_t, std::vector<std::size_t>> seconds_;
    std::unordered_map<std::string, std::vector<std::size_t>> stems_;
    std::unordered_map<std::string, std::vector<std::size_t>> places_;
};

/// Puts raws, camera JPEGs and proxies together into frames: everything in originals and rejects.
void enter_shots(FrameBook& book);

/// Finds the frame of every print and web picture; those without one become frames of their own.
void enter_deliveries(FrameBook& book);

/// Adds sidecars to the frames they belong to; gives back those that belong to no file.
std::vector<std::size_t> enter_sidecars(FrameBook& book);

}  // namespace glassine::job
