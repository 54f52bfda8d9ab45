#include "glassine/journeys/page_file.h"

#include "glassine/io/files.h"

#include <utility>

namespace glassine::journeys {

PageFile::PageFile(io::FileSystem& files, io::Path path) : files_(files), path_(std::move(path)) {
    constexpr const char* tried = "write the page";
    if (files.find(path_))
        throw Error(Cause::exists, tried, path_.string(), "something stands there already",
                    "name a file that does not exist; nothing is ever replaced");
    const io::Path folder = path_.has_parent_path() ? path_.parent_path() : io::Path(".");
    if (!files.find(folder))
        throw Error(Cause::not_found, tried, path_.string(), "there is no such folder",
                    "make the folder first");
}

void PageFile::write(std::string_view html) const {
    io::write_new_file(files_, path_, html);
}

}  // namespace glassine::journeys
