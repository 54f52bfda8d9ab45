#include "journeys/drive_words.h"

namespace glassine::journeys {

std::string drive_words(io::FileSystem& files, const io::Path& path) try {
    const io::Volume volume = files.volume(path);
    std::string out = volume.model;
    if (!volume.serial.empty()) out += (out.empty() ? "serial " : ", serial ") + volume.serial;
    return out;
} catch (const Error&) {
    // Good to know, no more: the drive may just have been pulled out, which is told elsewhere.
    return "";
}

}  // namespace glassine::journeys
