#pragma once

#include "glassine/flow/destination.h"

namespace glassine::flow {

/// A destination for one file as it is, an archive that is carried: staged, proven and published
/// like a bag's folder.
class FileDestination : public Destination {
  public:
    /// Where the file is until it is published: for looking into it before it gets its name.
    virtual io::Path staged() const = 0;
};

/// The file `folder/name`. Its one item has this name; others are not published. Staged in
/// `folder/.NAME.glassine-staging`.
std::unique_ptr<FileDestination> file_destination(io::FileSystem& files, io::Path folder,
                                                  std::string name);

}  // namespace glassine::flow
