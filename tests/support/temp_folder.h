#pragma once

#include <filesystem>
#include <string>
#include <string_view>

namespace glassine::test {

/// A new empty folder, removed with all that is in it at the end of the scope.
class TempFolder {
  public:
    /// Below `parent`, or below the system's folder for temporary files.
    explicit TempFolder(const std::filesystem::path& parent = {});
    TempFolder(const TempFolder&) = delete;
    TempFolder& operator=(const TempFolder&) = delete;
    ~TempFolder();

    const std::filesystem::path& path() const { return path_; }
    std::filesystem::path operator/(std::string_view name) const { return path_ / name; }
    /// Writes a file below the folder, making the folders above it.
    std::filesystem::path write(std::string_view name, std::string_view content) const;

  private:
    std::filesystem::path path_;
};

/// The whole content of a file; fails the test when it cannot be read.
std::string content_of(const std::filesystem::path& path);
void write_file(const std::filesystem::path& path, std::string_view content);

/// Bytes that look random but are the same for the same seed.
std::string noise(std::size_t size, unsigned seed);

/// Every path below `root` with type, size, times and a digest of its content: two equal results
/// mean an untouched tree.
std::string tree_fingerprint(const std::filesystem::path& root);

}  // namespace glassine::test
