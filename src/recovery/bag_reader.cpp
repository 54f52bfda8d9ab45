#include "recovery/bag_reader.h"

namespace glassine::recovery {

std::optional<std::size_t> BagReader::read(const std::string& name, std::uint64_t offset,
                                           std::span<std::byte> into) {
    try {
        if (name != name_) {
            name_ = name;
            file_.reset();
            file_ = files_.open(root_ / name);
        }
        if (!file_) return std::nullopt;
        return file_->read(offset, into);
    } catch (const Error&) {
        return std::nullopt;  // lost or unreadable: that is what recovery data is for
    }
}

bool BagReader::read_all(const std::string& name, std::uint64_t offset, std::span<std::byte> into) {
    return read(name, offset, into) == into.size();
}

}  // namespace glassine::recovery
