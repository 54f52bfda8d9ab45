#pragma once

#include "glassine/flow/file_destination.h"
#include "glassine/store/client.h"

#include <memory>
#include <string>

namespace glassine::flow {

/// A bag below `folder` in an object store. Objects are sent as the river brings them, several
/// parts side by side, out of no more memory than a few parts; `bagit.txt` comes last, when
/// everything else is proven: what has no `bagit.txt` is no bag.
///
/// With `allow_lag` a slow line never holds the river up: what does not fit is taken by `catch_up`.
/// Without, the river waits, one file after another.
///
/// An interrupted or failed run leaves what it has sent, beside a mark
/// `.NAME.glassine-staging/begun`: the next one for this bag compares every object and part there
/// with its own bytes by the store's MD5 and sends only what differs; what it has no use for it
/// takes away. Without the mark nothing that stands under the bag's name is touched (Error
/// `exists`).
///
/// `files` reads from the store (`store::with_object_stores`).
std::unique_ptr<Destination> object_destination(io::FileSystem& files, store::Client& client,
                                                store::Address folder, std::string bag_name);

/// One object as it is, an archive that is carried: `folder/name`.
std::unique_ptr<FileDestination> single_object_destination(io::FileSystem& files,
                                                           store::Client& client,
                                                           store::Address folder, std::string name);

}  // namespace glassine::flow
