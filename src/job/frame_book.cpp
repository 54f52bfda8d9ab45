#include "frame_book.h"

#include "glassine/base/text.h"

#include <algorithm>

namespace glassine::job {
namespace {

void put(std::vector<std::size_t>& frames, std::size_t frame) {
    if (std::ranges::find(frames, frame) == frames.end()) frames.push_back(frame);
}

std::span<const std::size_t> look_up(const auto& map, const auto& key) {
    const auto at = map.find(key);
    if (at == map.end()) return {};
    return at->second;
}

/// Fills in what was not known yet.
void complete(Evidence& face, const Evidence& more) {
    if (face.model.empty()) face.model = more.model;
    if (face.serial.empty()) face.serial = more.serial;
    if (!face.milliseconds || (!face.has_subseconds && more.has_subseconds &&
                               compare_times(face, more) == Comparison::same)) {
        face.milliseconds = more.milliseconds;
        face.has_subseconds = more.has_subseconds;
    }
    if (face.original_stem.empty()) face.original_stem = more.original_stem;
    if (!face.camera_name) face.camera_name = more.camera_name;
}

}  // namespace

FrameBook::FrameBook(std::span<const JobFile> files, std::span<const Observed> observed)
    : files_(files), observed_(observed) {
    evidence_.reserve(files.size());
    for (std::size_t i = 0; i < files.size(); ++i)
        evidence_.push_back(evidence_of(files[i], observed[i].picture));
}

std::size_t FrameBook::add(std::size_t file) {
    frames_.emplace_back();
    faces_.push_back(evidence_[file]);
    attach(frames_.size() - 1, file);
    return frames_.size() - 1;
}

void FrameBook::attach(std::size_t frame, std::size_t file) {
    Frame& into = frames_[frame];
    shelf_for(into, files_[file]).push_back(file);
    if (files_[file].role == Role::sidecar) return;
    complete(faces_[frame], evidence_[file]);
    const photo::Picture& picture = observed_[file].picture;
    if (!into.captured) into.captured = picture.captured;
    into.broken = into.broken || picture.verdict == photo::Verdict::broken;
    if (!into.originals.empty())
        into.state = FrameState::kept;
    else if (!into.rejected.empty() || !into.proxies.empty())
        into.state = FrameState::rejected;
    learn(frame, file);
}

std::vector<std::size_t>& FrameBook::shelf_for(Frame& frame, const JobFile& file) const {
    if (file.role == Role::sidecar) return frame.sidecars;
    switch (file.section) {
        case Section::originals:
            return frame.originals;
        case Section::print:
            return frame.print;
        case Section::web:
            return frame.web;
        case Section::rejects:
            break;
    }
    return file.role == Role::proxy ? frame.proxies : frame.rejected;
}

void FrameBook::learn(std::size_t frame, std::size_t file) {
    const Evidence& evidence = evidence_[file];
    if (const auto second = evidence.second()) put(seconds_[*second], frame);
    put(stems_[evidence.stem], frame);
    if (!evidence.original_stem.empty()) put(stems_[evidence.original_stem], frame);
    put(places_[place_of(file)], frame);
    put(places_[text::fold_case(files_[file].shown)], frame);
}

std::span<const std::size_t> FrameBook::at_second(std::int64_t second) const {
    return look_up(seconds_, second);
}

std::span<const std::size_t> FrameBook::with_stem(const std::string& stem) const {
    return look_up(stems_, stem);
}

std::span<const std::size_t> FrameBook::at_place(const std::string& place) const {
    return look_up(places_, place);
}

std::string FrameBook::place_of(std::size_t file) const {
    return text::fold_case(stem_of(files_[file].shown));
}

}  // namespace glassine::job
