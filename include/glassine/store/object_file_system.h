#pragma once

#include "glassine/io/file_system.h"
#include "glassine/store/client.h"

#include <functional>
#include <memory>

namespace glassine::store {

/// Gives the client when it is needed first: who touches no object store needs neither settings nor
/// keys. Throws Error when there are none. May be called from several threads.
using ClientSource = std::function<Client&()>;

/// `local`, but paths that begin with `s3:/` are objects. What an object store is not, is told
/// here:
///
/// - Folders are what the keys say up to a `/`; an empty one is a key that ends in `/`. There is
/// none
///   to be made before something is written into it (`has_folders`).
/// - An object is there when it is closed, as a whole; one that is never closed leaves nothing. It
///   comes by parts when it is larger than `Settings::part_size`.
/// - Reading asks for ranges: first for just what is wanted, then, as long as it goes on in order,
/// for
///   more at a time. An object that is exchanged while it is open is Error `changed`. Bytes always
///   come from the store, never from a cache (`Bypass::fetched`).
/// - `replace` and `rename` copy an object within the store and take the first one away: not one
/// step,
///   and only for objects. `append_to` sends the whole object anew.
/// - Times are the store's: when an object came there. `OutputFile::set_modified` is kept beside it
///   (`x-amz-meta-mtime`), `FileSystem::set_modified` has no effect.
/// - Locks hold nobody off: stores have none.
std::unique_ptr<io::FileSystem> with_object_stores(io::FileSystem& local, ClientSource source);

}  // namespace glassine::store
