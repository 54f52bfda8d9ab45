// Ages a drive: does to the bag on it what years on a shelf do, and says what it did.

#include "canvas.h"
#include "command.h"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include <fmt/format.h>

namespace fs = std::filesystem;

namespace demo {

namespace {

constexpr std::size_t kSector = 4096;

fs::path find_bag(const fs::path& drive) {
    if (fs::exists(drive / "bagit.txt")) return drive;
    std::vector<fs::path> bags;
    for (const fs::directory_entry& entry : fs::directory_iterator(drive)) {
        if (fs::exists(entry.path() / "bagit.txt")) bags.push_back(entry.path());
    }
    if (bags.empty()) throw std::runtime_error("no bag on " + drive.string());
    return *std::min_element(bags.begin(), bags.end());
}

/// Damages the files of one bag; every file suffers at most once.
class Years {
  public:
    Years(fs::path bag, std::uint64_t seed) : bag_(std::move(bag)), dice_(seed) {}

    void flip_a_bit(const std::string& section, const std::string& extension) {
        fs::path path = pick(section, extension);
        std::string bytes = read(path);
        std::size_t at = dice_.next() % bytes.size();
        unsigned bit = static_cast<unsigned>(dice_.below(8));
        bytes[at] = static_cast<char>(static_cast<unsigned char>(bytes[at]) ^ (1U << bit));
        overwrite(path, bytes);
        tell(path, fmt::format("one bit has flipped (bit {} of byte {})", bit, at));
    }

    void lose_a_sector(const std::string& section, const std::string& extension) {
        fs::path path = pick(section, extension);
        std::string bytes = read(path);
        std::size_t sectors = bytes.size() / kSector;
        if (sectors < 4) throw std::runtime_error(path.string() + " is too small to lose a sector");
        std::size_t at = (sectors / 4 + dice_.next() % (sectors / 2 + 1)) * kSector;
        if (bytes.compare(at, kSector, std::string(kSector, '\0')) == 0) {
            throw std::runtime_error(path.string() + " has nothing to lose there");
        }
        bytes.replace(at, kSector, std::string(kSector, '\0'));
        overwrite(path, bytes);
        tell(path, fmt::format("a sector reads as zeros (bytes {} to {})", at, at + kSector - 1));
    }

    void cut_short(const std::string& section, const std::string& extension) {
        fs::path path = pick(section, extension);
        auto before = fs::file_size(path);
        auto after = before * 3 / 5;
        fs::resize_file(path, after);
        tell(path, fmt::format("cut short, {} bytes of {} are left", after, before));
    }

    void lose_a_file(const std::string& section, const std::string& extension) {
        fs::path path = pick(section, extension);
        fs::remove(path);
        tell(path, "lost");
    }

    void leave_a_stray(const std::string& name) {
        fs::path path = bag_ / name;
        std::ofstream out(path);
        out << "Album: ask about the cover before Friday.\n";
        out.close();
        if (!out) throw std::runtime_error(path.string() + " cannot be written");
        tell(path, "somebody left this here");
    }

  private:
    fs::path pick(const std::string& section, const std::string& extension) {
        std::vector<fs::path> files;
        for (const auto& entry : fs::recursive_directory_iterator(bag_ / section)) {
            if (!entry.is_regular_file() || entry.path().extension() != extension) continue;
            if (std::find(aged_.begin(), aged_.end(), entry.path()) != aged_.end()) continue;
            files.push_back(entry.path());
        }
        if (files.empty()) {
            throw std::runtime_error("no " + extension + " file in " + (bag_ / section).string());
        }
        std::sort(files.begin(), files.end());
        aged_.push_back(files[dice_.next() % files.size()]);
        return aged_.back();
    }

    static std::string read(const fs::path& path) {
        std::ifstream in(path, std::ios::binary);
        std::ostringstream bytes;
        bytes << in.rdbuf();
        if (!in) throw std::runtime_error(path.string() + " cannot be read");
        return bytes.str();
    }

    /// Size and times stay: a decaying drive does not tell.
    static void overwrite(const fs::path& path, const std::string& bytes) {
        auto modified = fs::last_write_time(path);
        std::ofstream out(path, std::ios::binary | std::ios::in);
        out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
        out.close();
        if (!out) throw std::runtime_error(path.string() + " cannot be written");
        fs::last_write_time(path, modified);
    }

    void tell(const fs::path& path, const std::string& what) const {
        fmt::print("  {}\n      {}\n", path.lexically_relative(bag_).generic_string(), what);
    }

    fs::path bag_;
    Dice dice_;
    std::vector<fs::path> aged_;
};

void age(const fs::path& drive, std::uint64_t seed) {
    fs::path bag = find_bag(drive);
    fmt::print("{}\n", bag.string());
    Years years(bag, seed);
    years.flip_a_bit("data/originals", ".DNG");
    years.lose_a_sector("data/print", ".jpg");
    years.cut_short("data/web", ".jpg");
    years.lose_a_file("data/originals", ".DNG");
    years.leave_a_stray("data/print/album notes.txt");
}

}  // namespace

}  // namespace demo

int main(int argc, char** argv) {
    return demo::run_command(argc, argv, "glassine-demo-age", "DRIVE", demo::age);
}
