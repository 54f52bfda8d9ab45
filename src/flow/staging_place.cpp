#include "staging_place.h"

#include "glassine/io/files.h"

#include <string_view>

#include <fmt/format.h>

namespace glassine::flow {
namespace {

constexpr std::string_view lock_name = "lock";

}  // namespace

Error StagingPlace::in_use() const {
    return {Cause::busy, "write to the destination", path_.string(),
            fmt::format("another run is {} here", work_), "wait for it to end"};
}

void StagingPlace::clear() {
    if (!files_.find(path_)) return;
    // Only what carries our lock file is ours, and only when nobody holds it is it left over.
    if (!files_.list(path_).empty() && !files_.find(path_ / lock_name))
        throw Error(Cause::exists, "write to the destination", path_.string(),
                    "a folder stands where things are to be prepared, and it is not one of ours",
                    "look at it and move it away");
    const auto lock = files_.try_lock(path_ / lock_name);
    if (!lock) throw in_use();
    io::remove_tree(files_, path_);
}

void StagingPlace::make() {
    clear();
    files_.make_directory(path_);
    lock_ = files_.try_lock(path_ / lock_name);
    if (!lock_) throw in_use();
}

void StagingPlace::remove() noexcept {
    try {
        if (lock_) io::remove_tree(files_, path_);
    } catch (const Error&) {
        // The next run finds it and clears it.
        lock_.reset();
    }
    lock_.reset();
}

}  // namespace glassine::flow
