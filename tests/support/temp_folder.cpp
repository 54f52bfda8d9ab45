#include "support/temp_folder.h"

#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <map>
#include <random>
#include <sstream>
#include <stdexcept>
#include <vector>

#include <unistd.h>

namespace glassine::test {
namespace fs = std::filesystem;

TempFolder::TempFolder(const fs::path& parent) {
    std::string name =
        ((parent.empty() ? fs::temp_directory_path() : parent) / "glassine-test-").string();
    name.append(6, 'X');  // mkdtemp(3) puts its own letters there
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder: " + name);
    path_ = name;
}

TempFolder::~TempFolder() {
    std::error_code ignored;
    for (const auto& entry : fs::recursive_directory_iterator(path_, ignored))
        if (entry.is_directory(ignored) && !entry.is_symlink(ignored))
            fs::permissions(entry, fs::perms::owner_all, fs::perm_options::add, ignored);
    fs::remove_all(path_, ignored);
}

fs::path TempFolder::write(std::string_view name, std::string_view content) const {
    const fs::path path = path_ / name;
    fs::create_directories(path.parent_path());
    write_file(path, content);
    return path;
}

std::string content_of(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    if (!in) throw std::runtime_error("cannot read " + path.string());
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

void write_file(const fs::path& path, std::string_view content) {
    std::ofstream out(path, std::ios::binary | std::ios::trunc);
    out.write(content.data(), static_cast<std::streamsize>(content.size()));
    if (!out.flush()) throw std::runtime_error("cannot write " + path.string());
}

std::string noise(std::size_t size, unsigned seed) {
    std::mt19937_64 random(seed);
    std::string out(size, '\0');
    for (std::size_t i = 0; i < size; i += 8) {
        const std::uint64_t word = random();
        for (std::size_t j = i; j < std::min(size, i + 8); ++j)
            out[j] = static_cast<char>(word >> (8 * (j - i)));
    }
    return out;
}

std::string tree_fingerprint(const fs::path& root) {
    std::map<std::string, std::string> lines;
    for (const auto& entry : fs::recursive_directory_iterator(root)) {
        std::ostringstream line;
        line << static_cast<int>(entry.symlink_status().type());
        if (entry.is_symlink()) {
            line << " -> " << fs::read_symlink(entry).string();
        } else if (entry.is_regular_file()) {
            line << ' ' << entry.file_size() << ' '
                 << entry.last_write_time().time_since_epoch().count() << ' '
                 << std::hash<std::string>()(content_of(entry.path()));
        }
        lines[fs::relative(entry.path(), root).string()] = line.str();
    }
    std::ostringstream out;
    for (const auto& [path, line] : lines)
        out << path << ": " << line << '\n';
    return out.str();
}

}  // namespace glassine::test
