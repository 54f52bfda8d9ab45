#pragma once

#include "glassine/io/file_system.h"
#include "glassine/job/section.h"

#include <array>
#include <optional>
#include <string>

namespace CLI {
class App;
}

namespace glassine::cli {

/// --originals, --print, --web, --rejects: folders of the job's sections.
class SectionOptions {
  public:
    /// This object must live as long as the command line is read.
    void declare(CLI::App& app);
    /// By `job::index`; nothing for those not given.
    std::array<std::optional<io::Path>, 4> folders() const;

  private:
    std::array<std::string, 4> given_;
};

}  // namespace glassine::cli
