#include "frame_book.h"

#include <algorithm>
#include <cctype>
#include <map>
#include <optional>
#include <string>
#include <unordered_map>
#include <utility>

/// Which frame a print or web picture shows.
namespace glassine::job {
namespace {

constexpr std::size_t shortest_stem = 4;
constexpr std::int64_t hour_in_milliseconds = 3'600'000;

bool is_delivered_in(const Frame& frame, Section section) {
    return !(section == Section::print ? frame.print : frame.web).empty();
}

/// Of several frames that would do: kept before others, then those that nothing was delivered of.
class Choice {
  public:
    Choice(const FrameBook& book, Section section) : book_(book), section_(section) {}

    void offer(std::size_t frame, bool same_name = false) {
        const Frame& known = book_.frame(frame);
        const int rank = (same_name ? 8 : 0) + (known.state == FrameState::kept ? 4 : 0) +
                         (known.state == FrameState::rejected ? 2 : 0) +
                         (is_delivered_in(known, section_) ? 0 : 1);
        if (best_ && rank <= rank_) return;
        best_ = frame;
        rank_ = rank;
    }
    std::optional<std::size_t> best() const { return best_; }

  private:
    const FrameBook& book_;
    Section section_;
    std::optional<std::size_t> best_;
    int rank_ = 0;
};

bool is_boundary(const std::string& text, std::size_t at) {
    const auto separates = [](char c) {
        const auto byte = static_cast<unsigned char>(c);
        return byte < 0x80 && std::isalnum(byte) == 0;
    };
    return at == 0 || at == text.size() || separates(text[at]) || separates(text[at - 1]);
}

/// The parts of a stem that may be the name of the original: the whole ("0042"), what an editing
/// step was appended to ("0042-bw"), a camera's name anywhere ("okafor_abcd0042"). Longest first.
std::vector<std::string> names_within(const std::string& stem) {
    std::vector<std::string> names{stem};
    for (std::size_t end = stem.size(); end-- > shortest_stem;) {
        if (is_boundary(stem, end)) names.push_back(stem.substr(0, end));
    }
    constexpr std::size_t dcf_length = 8;
    for (std::size_t begin = 0; begin + dcf_length <= stem.size(); ++begin) {
        if (!is_boundary(stem, begin) || !is_boundary(stem, begin + dcf_length)) continue;
        std::string part = stem.substr(begin, dcf_length);
        if (photo::dcf::parse_file_name(part)) names.push_back(std::move(part));
    }
    return names;
}

class Deliveries {
  public:
    explicit Deliveries(FrameBook& book) : book_(book) {}

    void enter() {
        std::vector<std::size_t> open;
        for (std::size_t i = 0; i < book_.file_count(); ++i) {
            const JobFile& file = book_.file(i);
            const bool delivered = file.section == Section::print || file.section == Section::web;
            const bool picture = file.role == Role::picture || file.role == Role::raw;
            if (delivered && picture && !attach(i, by_moment(i)) && !attach(i, by_name(i)))
                open.push_back(i);
        }
        std::erase_if(open, [&](std::size_t file) { return attach(file, by_other_section(file)); });
        attach_shifted(open);
        for (const std::size_t file : open) {
            // A second picture of a frame that has just been made for the first.
            if (!attach(file, by_moment(file)) && !attach(file, by_other_section(file)))
                remember(file, book_.add(file));
        }
    }

  private:
    bool attach(std::size_t file, std::optional<std::size_t> frame) {
        if (!frame) return false;
        book_.attach(*frame, file);
        remember(file, *frame);
        return true;
    }

    void remember(std::size_t file, std::size_t frame) {
        delivered_.try_emplace(key(book_.file(file).section, book_.evidence(file).stem), frame);
    }

    static std::string key(Section section, const std::string& stem) {
        return std::string(word(section)) + '/' + stem;
    }

    std::optional<std::size_t> by_moment(std::size_t file) const {
        const Evidence& evidence = book_.evidence(file);
        const auto second = evidence.second();
        if (!second) return std::nullopt;
        Choice choice(book_, book_.file(file).section);
        for (const std::size_t frame : book_.at_second(*second)) {
            const Evidence& face = book_.face(frame);
            const Comparison names = compare_names(face, evidence);
            if (may_be_one_frame(face, evidence) && names != Comparison::differ)
                choice.offer(frame, names == Comparison::same);
        }
        return choice.best();
    }

    std::optional<std::size_t> by_name(std::size_t file) const {
        return named(file, [](const Evidence& face, const Evidence& own) {
            return may_be_one_frame(face, own);
        });
    }

    std::optional<std::size_t> named(std::size_t file, const auto& fits) const {
        const Evidence& evidence = book_.evidence(file);
        for (const std::string& name : names_within(evidence.best_stem())) {
            Choice choice(book_, book_.file(file).section);
            for (const std::size_t frame : book_.with_stem(name)) {
                if (fits(book_.face(frame), evidence)) choice.offer(frame);
            }
            if (choice.best()) return choice.best();
        }
        return std::nullopt;
    }

    /// Exports without metadata: the print of the same name tells what the web picture shows.
    std::optional<std::size_t> by_other_section(std::size_t file) const {
        const Section own = book_.file(file).section;
        const Section other = own == Section::print ? Section::web : Section::print;
        const auto at = delivered_.find(key(other, book_.evidence(file).stem));
        if (at == delivered_.end()) return std::nullopt;
        if (!may_be_one_frame(book_.face(at->second), book_.evidence(file))) return std::nullopt;
        return at->second;
    }

    /// Capture times that were set right after the shoot: name and body agree, and the times of all
    /// such pictures of a body are apart by the same.
    void attach_shifted(std::vector<std::size_t>& open) {
        using Match = std::pair<std::size_t, std::size_t>;
        std::map<std::pair<std::string, std::int64_t>, std::vector<Match>> shifts;
        for (const std::size_t file : open) {
            const auto frame = named(file, [](const Evidence& face, const Evidence& own) {
                return compare_bodies(face, own) == Comparison::same;
            });
            if (!frame || !book_.evidence(file).milliseconds || !book_.face(*frame).milliseconds)
                continue;
            const Evidence& face = book_.face(*frame);
            const std::int64_t shift = *book_.evidence(file).second() - *face.second();
            shifts[{face.model + '\n' + face.serial, shift * 1000}].emplace_back(file, *frame);
        }
        for (const auto& [what, matches] : shifts) {
            if (matches.size() < 2 && what.second % hour_in_milliseconds != 0) continue;
            for (const auto& [file, frame] : matches) {
                attach(file, frame);
                std::erase(open, file);
            }
        }
    }

    FrameBook& book_;
    /// By section and stem.
    std::unordered_map<std::string, std::size_t> delivered_;
};

}  // namespace

void enter_deliveries(FrameBook& book) {
    Deliveries(book).enter();
}

}  // namespace glassine::job
