#include "tiff_file.h"

#include <algorithm>
#include <cstdio>
#include <cstring>
#include <stdexcept>

namespace demo {

TiffFile::TiffFile() : memory_(std::make_unique<Memory>()) {
    auto close = [](thandle_t) { return 0; };
    tiff_.reset(TIFFClientOpen("memory", "wl", memory_.get(), read, write, seek, close, size,
                               nullptr, nullptr));
    if (!tiff_) throw std::runtime_error("libtiff: cannot begin a file");
}

void TiffFile::refuse(std::uint32_t tag) {
    throw std::runtime_error("libtiff: tag " + std::to_string(tag) + " refused");
}

void TiffFile::write_strip(std::uint32_t index, const void* data, std::size_t size) {
    auto bytes = static_cast<tmsize_t>(size);
    if (TIFFWriteEncodedStrip(tiff_.get(), index, const_cast<void*>(data), bytes) != bytes) {
        throw std::runtime_error("libtiff: strip " + std::to_string(index) + " not written");
    }
}

void TiffFile::write_raw_strip(std::uint32_t index, const void* data, std::size_t size) {
    auto bytes = static_cast<tmsize_t>(size);
    if (TIFFWriteRawStrip(tiff_.get(), index, const_cast<void*>(data), bytes) != bytes) {
        throw std::runtime_error("libtiff: strip " + std::to_string(index) + " not written");
    }
}

void TiffFile::write_tile(std::uint32_t index, const void* data, std::size_t size) {
    auto bytes = static_cast<tmsize_t>(size);
    if (TIFFWriteEncodedTile(tiff_.get(), index, const_cast<void*>(data), bytes) != bytes) {
        throw std::runtime_error("libtiff: tile " + std::to_string(index) + " not written");
    }
}

void TiffFile::end_directory() {
    if (TIFFWriteDirectory(tiff_.get()) != 1) {
        throw std::runtime_error("libtiff: directory not written");
    }
}

std::uint64_t TiffFile::end_custom_directory() {
    std::uint64_t offset = 0;
    if (TIFFWriteCustomDirectory(tiff_.get(), &offset) != 1) {
        throw std::runtime_error("libtiff: Exif or GPS directory not written");
    }
    TIFFFreeDirectory(tiff_.get());  // libtiff forgets, but does not free, what was written
    return offset;
}

void TiffFile::know_bytes(std::uint32_t tag, int count, const char* name) {
    // libtiff keeps the name until the file is closed; callers pass literals.
    auto values = static_cast<short>(count);
    TIFFFieldInfo field{tag,          values, values, TIFF_BYTE,
                        FIELD_CUSTOM, 1,      0,      const_cast<char*>(name)};
    if (TIFFMergeFieldInfo(tiff_.get(), &field, 1) != 0) refuse(tag);
}

std::string TiffFile::finish() {
    tiff_.reset();
    return std::move(memory_->bytes);
}

tmsize_t TiffFile::read(thandle_t memory, void* into, tmsize_t size) {
    auto& self = *static_cast<Memory*>(memory);
    if (self.at >= self.bytes.size()) return 0;
    std::size_t count = std::min(static_cast<std::size_t>(size), self.bytes.size() - self.at);
    std::memcpy(into, self.bytes.data() + self.at, count);
    self.at += count;
    return static_cast<tmsize_t>(count);
}

tmsize_t TiffFile::write(thandle_t memory, void* from, tmsize_t size) {
    auto& self = *static_cast<Memory*>(memory);
    auto count = static_cast<std::size_t>(size);
    if (self.bytes.size() < self.at + count) self.bytes.resize(self.at + count);
    std::memcpy(self.bytes.data() + self.at, from, count);
    self.at += count;
    return size;
}

toff_t TiffFile::seek(thandle_t memory, toff_t offset, int whence) {
    auto& self = *static_cast<Memory*>(memory);
    std::size_t base = whence == SEEK_CUR ? self.at : whence == SEEK_END ? self.bytes.size() : 0;
    self.at = base + static_cast<std::size_t>(offset);
    return self.at;
}

toff_t TiffFile::size(thandle_t memory) {
    return static_cast<Memory*>(memory)->bytes.size();
}

}  // namespace demo
