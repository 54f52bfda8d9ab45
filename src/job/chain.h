#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>

namespace glassine::job {

/// Numbers that one counter gave, laid out on a line that does not wrap: 9999 stands at 9999, the
/// 0001 that followed at 10000.
class Chain {
  public:
    struct Link {
        std::size_t frame;
        int number;
        std::optional<std::int64_t> milliseconds;
    };

    explicit Chain(const Link& first) : links_{{first.number, first}} {}

    /// Steps forward from the last number, when there are at most `limit`; 0 for the same number
    /// again.
    std::optional<int> steps_to(const Link& link, int limit) const;
    /// Puts the link where it belongs; call only when `steps_to` or `fits_before_end` allows it.
    void extend(const Link& link, int steps);
    /// Frames of one second may come in any order: true, and inserted, if it fills a place shortly
    /// before the end.
    bool fill_in(const Link& link);

    /// By place on the line.
    const std::map<std::int64_t, Link>& links() const { return links_; }
    static int number_at(std::int64_t place);

  private:
    std::map<std::int64_t, Link> links_;
};

}  // namespace glassine::job
