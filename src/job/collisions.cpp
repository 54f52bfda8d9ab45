#include "collisions.h"

#include "glassine/base/text.h"

#include <string>
#include <string_view>
#include <unordered_map>
#include <unordered_set>

namespace glassine::job {
namespace {

/// Where a name was seen first.
struct Seen {
    std::string_view name;   ///< in the bag
    std::string_view shown;  ///< in the job
};

class Finder {
  public:
    void add(const JobFile& file) {
        const std::string_view name = file.name;
        for (std::size_t end = name.find('/'); end != std::string_view::npos;
             end = name.find('/', end + 1)) {
            if (collides(name.substr(0, end), file)) return;
        }
        collides(name, file);
    }
    std::vector<Finding> take() { return std::move(findings_); }

  private:
    /// True when another name stands in this one's place; what is below it is then not looked at
    /// again.
    bool collides(std::string_view name, const JobFile& file) {
        const std::size_t dropped = file.name.size() - name.size();
        const std::string_view shown =
            std::string_view(file.shown).substr(0, file.shown.size() - dropped);
        const auto [at, is_new] = seen_.try_emplace(text::fold_case(name), Seen{name, shown});
        if (is_new || at->second.name == name) return false;
        if (reported_.insert(std::string(name)).second) {
            findings_.push_back(found(FindingKind::name_collision, Severity::blocking,
                                      std::string(shown),
                                      "differs from " + std::string(at->second.shown) +
                                          " only in case or accents' encoding: on many drives one "
                                          "would take the other's place"));
        }
        return true;
    }

    std::unordered_map<std::string, Seen> seen_;
    std::unordered_set<std::string> reported_;
    std::vector<Finding> findings_;
};

}  // namespace

std::vector<Finding> find_collisions(std::span<const JobFile> files) {
    Finder finder;
    for (const JobFile& file : files) {
        if (file.is_payload()) finder.add(file);
    }
    return finder.take();
}

}  // namespace glassine::job
