#include "frame_book.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <optional>
#include <unordered_set>

/// What the cameras wrote: originals and rejects.
namespace glassine::job {
namespace {

/// Same folder, same stem: one DCF object, unless metadata say otherwise.
std::optional<std::size_t> beside(const FrameBook& book, std::size_t file) {
    for (const std::size_t frame : book.at_place(book.place_of(file))) {
        if (may_be_one_frame(book.face(frame), book.evidence(file))) return frame;
    }
    return std::nullopt;
}

/// Same moment, and body and name agree, wherever the files lie.
std::optional<std::size_t> by_moment(const FrameBook& book, std::size_t file, bool renamed) {
    const Evidence& evidence = book.evidence(file);
    const auto second = evidence.second();
    if (!second) return std::nullopt;
    std::optional<std::size_t> only;
    for (const std::size_t frame : book.at_second(*second)) {
        const Evidence& face = book.face(frame);
        if (!may_be_one_frame(face, evidence)) continue;
        const Comparison names = compare_names(face, evidence);
        if (names == Comparison::same) return frame;
        if (!renamed || names == Comparison::differ) continue;
        if (only) return std::nullopt;
        only = frame;
    }
    return only;
}

/// Same name, and one of the two does not know its time.
std::optional<std::size_t> by_name(const FrameBook& book, std::size_t file) {
    const Evidence& evidence = book.evidence(file);
    const bool is_proxy = book.file(file).role == Role::proxy;
    std::optional<std::size_t> only;
    for (const std::size_t frame : book.with_stem(evidence.best_stem())) {
        const Frame& known = book.frame(frame);
        if ((is_proxy ? known.rejected : known.originals).empty()) continue;
        if (!may_be_one_frame(book.face(frame), evidence)) continue;
        if (compare_times(book.face(frame), evidence) == Comparison::same) continue;
        if (only) return std::nullopt;
        only = frame;
    }
    return only;
}

void enter(FrameBook& book, std::size_t file) {
    const bool is_raw = book.file(file).role == Role::raw;
    std::optional<std::size_t> frame = beside(book, file);
    if (!frame) frame = by_moment(book, file, !is_raw);
    if (!frame && !is_raw) frame = by_name(book, file);
    if (frame)
        book.attach(*frame, file);
    else
        book.add(file);
}

bool shows_a_frame(Role role) {
    return role == Role::raw || role == Role::picture || role == Role::proxy;
}

}  // namespace

void enter_shots(FrameBook& book) {
    // Raws first: they know most, and the other files gather around them.
    for (const bool raws : {true, false}) {
        for (std::size_t i = 0; i < book.file_count(); ++i) {
            const JobFile& file = book.file(i);
            const bool shot =
                file.section == Section::originals || file.section == Section::rejects;
            if (shot && shows_a_frame(file.role) && (file.role == Role::raw) == raws)
                enter(book, i);
        }
    }
}

std::vector<std::size_t> enter_sidecars(FrameBook& book) {
    // A sidecar may also stand beside a film or a sound.
    std::unordered_set<std::string> others;
    for (std::size_t i = 0; i < book.file_count(); ++i) {
        if (book.file(i).role != Role::other) continue;
        others.insert(book.place_of(i));
        others.insert(text::fold_case(book.file(i).shown));
    }
    std::vector<std::size_t> orphans;
    for (std::size_t i = 0; i < book.file_count(); ++i) {
        if (book.file(i).role != Role::sidecar) continue;
        // "0042.xmp" beside "0042.DNG", or "0042.DNG.xmp".
        const std::string place = book.place_of(i);
        const auto frames = book.at_place(place);
        if (!frames.empty())
            book.attach(frames.front(), i);
        else if (!others.contains(place))
            orphans.push_back(i);
    }
    return orphans;
}

}  // namespace glassine::job
