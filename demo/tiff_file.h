#pragma once

#include <memory>
#include <string>

#include <tiffio.h>

namespace demo {

/// A TIFF that libtiff writes into memory.
class TiffFile {
  public:
    TiffFile();
    TiffFile(const TiffFile&) = delete;
    TiffFile& operator=(const TiffFile&) = delete;
    ~TiffFile() = default;

    TIFF* handle() { return tiff_.get(); }

    /// Sets a field as TIFFSetField does; throws if libtiff refuses.
    template <typename... Values>
    void set(std::uint32_t tag, Values... values) {
        if (TIFFSetField(tiff_.get(), tag, values...) != 1) refuse(tag);
    }
    void set(std::uint32_t tag, const std::string& text) {
        if (!text.empty()) set(tag, text.c_str());
    }

    void write_strip(std::uint32_t index, const void* data, std::size_t size);
    void write_raw_strip(std::uint32_t index, const void* data, std::size_t size);
    void write_tile(std::uint32_t index, const void* data, std::size_t size);
    void end_directory();
    /// Ends an Exif or GPS directory; returns where it lies.
    std::uint64_t end_custom_directory();
    /// Teaches libtiff a tag of `count` bytes for the directory that is being written.
    void know_bytes(std::uint32_t tag, int count, const char* name);

    /// Closes the file; nothing else may follow.
    std::string finish();

  private:
    struct Closer {
        void operator()(TIFF* tiff) const { TIFFClose(tiff); }
    };
    [[noreturn]] static void refuse(std::uint32_t tag);

    struct Memory {
        std::string bytes;
        std::size_t at = 0;
    };
    static tmsize_t read(thandle_t memory, void* into, tmsize_t size);
    static tmsize_t write(thandle_t memory, void* from, tmsize_t size);
    static toff_t seek(thandle_t memory, toff_t offset, int whence);
    static toff_t size(thandle_t memory);

    std::unique_ptr<Memory> memory_;
    std::unique_ptr<TIFF, Closer> tiff_;
};

}  // namespace demo
