#pragma once

#include "recovery/small_bag.h"

#include <random>
#include <string>
#include <vector>

namespace glassine::test {

/// Makes small bags, and damages them in every way that a medium or a person can; the same for the
/// same seed.
class DamageMachine {
  public:
    explicit DamageMachine(unsigned seed) : random_(seed) {}

    unsigned below(std::size_t limit) { return static_cast<unsigned>(random_() % limit); }
    bool chance(unsigned percent) { return below(100) < percent; }

    /// Payload and tag files, among them empty ones, tiny ones, and some of many blocks.
    Contents files() {
        Contents files;
        const unsigned count = 1 + below(8);
        for (unsigned i = 0; i < count; ++i) {
            files["data/" + std::string(chance(40) ? "print/" : "") + std::to_string(i) + ".jpg"] =
                content();
        }
        files["bagit.txt"] = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
        files["events.jsonl"] = content();
        return files;
    }

    recovery::Options options() {
        recovery::Options options = small_blocks(64u << below(3), 100 * (1 + below(60)));
        options.window_memory = options.block_size * (chance(50) ? 4 + below(20) : 10000u);
        options.waiting_memory = options.block_size * below(40);
        return options;
    }

    /// Damages some of the files; `names` says which may be hit.
    void damage(Contents& bag, const std::vector<std::string>& names, unsigned times) {
        for (unsigned i = 0; i < times; ++i) {
            const std::string& name = names[below(names.size())];
            if (bag.contains(name)) damage(bag, name);
        }
    }

  private:
    std::string content() {
        const unsigned kind = below(10);
        std::string bytes(kind == 0 ? 0 : kind < 4 ? below(100) : below(3000), '\0');
        for (auto& c : bytes)
            c = static_cast<char>(random_());
        if (chance(10))
            std::fill(bytes.begin() + static_cast<long>(bytes.size() / 2), bytes.end(), '\0');
        return bytes;
    }

    void damage(Contents& bag, const std::string& name) {
        std::string& bytes = bag[name];
        const std::size_t size = bytes.size();
        const std::size_t at = size == 0 ? 0 : below(size);
        const std::size_t length =
            std::min<std::size_t>(size - at, 1 + below(chance(20) ? 2000 : 150));
        switch (below(13)) {
            case 0:
            case 1:
            case 2:
            case 3:  // one flipped bit
                if (size > 0) bytes[at] = static_cast<char>(bytes[at] ^ (1 << below(8)));
                break;
            case 4:
            case 5:  // a zeroed range
                bytes.replace(at, length, length, '\0');
                break;
            case 6:
            case 7:  // a range of other bytes
                for (std::size_t i = at; i < at + length; ++i)
                    bytes[i] = static_cast<char>(random_());
                break;
            case 8:  // a range from elsewhere in the bag
            {
                const std::string other =
                    std::next(bag.begin(), below(bag.size()))->second.substr(0, length);
                bytes.replace(at, other.size(), other);
                bytes.resize(size);
            } break;
            case 9:
                bytes.resize(at);
                break;
            case 10:  // bytes come in between, or are gone
                if (chance(50)) {
                    bytes.insert(at, "inserted");
                } else {
                    bytes.erase(at, 1 + below(20));
                }
                break;
            case 11:
                bytes += std::string(1 + below(200), static_cast<char>(random_()));
                break;
            default:
                bag.erase(name);
        }
    }

    std::mt19937 random_;
};

}  // namespace glassine::test
