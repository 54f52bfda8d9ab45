#pragma once

#include "glassine/io/file_system.h"

#include <string_view>

namespace glassine::journeys {

/// A page that is written at the end of long work. Its place is looked at before the work begins,
/// so that nobody learns after hours of it that there is none.
class PageFile {
  public:
    /// Error `exists` when something stands there (nothing is ever replaced), `not_found` when
    /// there is no such folder.
    PageFile(io::FileSystem& files, io::Path path);
    void write(std::string_view html) const;
    const io::Path& path() const { return path_; }

  private:
    io::FileSystem& files_;
    io::Path path_;
};

}  // namespace glassine::journeys
