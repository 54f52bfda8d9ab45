#pragma once

#include "glassine/recovery/damage.h"
#include "glassine/recovery/recovery_set.h"

#include <cstdint>
#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::recovery {

/// The damage of a bag's files, seen from the windows.
class DamageMap {
  public:
    DamageMap(const RecoverySet& set, std::vector<FileDamage> damages);

    const std::map<std::string, FileDamage, std::less<>>& files() const { return files_; }
    const FileDamage* find(std::string_view name) const;

    /// The windows that damaged files lie in, ascending.
    const std::set<std::size_t>& windows() const { return windows_; }
    /// The blocks of a window that are damaged.
    std::set<std::uint32_t> lost_blocks(std::size_t window) const;
    /// True when no window covers the file, or not all that is damaged in it: nothing is known of
    /// those bytes.
    bool reaches_outside(const FileDamage& damage) const;

  private:
    const RecoverySet& set_;
    std::map<std::string, FileDamage, std::less<>> files_;
    std::set<std::size_t> windows_;
};

}  // namespace glassine::recovery
