#pragma once

#include "glassine/flow/sink.h"
#include "glassine/recovery/damage.h"
#include "glassine/recovery/recovery_set.h"

#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::recovery {

/// Finds damage by block while a bag is read for other reasons: a sink of the audit.
///
/// It only locates. Whether a file is right, its digest in the manifest says; damage found here in
/// a file whose digest matches means that the recovery data describes another state of the bag.
/// Files may come in any order and several at a time; memory: the damage found, and the check
/// values of the windows in use.
class Locator : public flow::Sink {
  public:
    /// The set must outlive the locator and not be used otherwise while files are coming.
    explicit Locator(RecoverySet& set) : set_(set) {}

    /// nullptr for files that the recovery data does not cover.
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override;

    /// A file that stands in the recovery data and was not handed over: lost. Call for each that is
    /// not there.
    void lost(std::string_view name);

    /// All damage, by name. Blocks whose check values are lost count as damaged in files that are
    /// not `proven`, that is, whose digest was not found right; without that knowledge, in files
    /// that have other damage.
    std::vector<FileDamage> damages(
        const std::function<bool(std::string_view name)>& proven = {}) const;

  private:
    class Reading;
    struct Located {
        FileDamage damage;
        std::vector<DamagedRange> unknown;
    };

    std::shared_ptr<const Checks> checks(std::size_t window);
    void keep(Located located);

    RecoverySet& set_;
    std::mutex set_mutex_;
    std::mutex mutex_;
    std::map<std::string, Located, std::less<>> located_;
};

/// Reads the files with these names (all that are covered, if empty) and says what is damaged. For
/// callers that do not read the bag anyway.
std::vector<FileDamage> locate(io::FileSystem& files, const io::Path& bag, RecoverySet& set,
                               const std::vector<std::string>& names = {},
                               const std::function<bool(std::string_view name)>& proven = {});

}  // namespace glassine::recovery
