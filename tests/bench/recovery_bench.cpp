// How fast recovery data is made, and what it heals when tried with real bytes.
//
//   bench_recovery speed [MEGABYTES]          4000 by default; in memory, nothing is written
//   bench_recovery heal FOLDER [TRIALS]       makes a bag of 2 GiB below FOLDER and damages it; 5
//   trials
//
// speed: 4 GB of files go through the encoder at 5 %, by the clock and by processor time, on one
// thread and on two; beside it, on the same bytes, copying memory, the check values alone, and
// SHA-512 (OpenSSL). What counts are the ratios. The answer is checked first: the recovery file of
// a small bag must be that of docs/recovery-format.md. heal: each trial damages the bag on disk,
// locates, heals in memory, compares the digests, and undoes the damage.

#include "glassine/digest/digest.h"
#include "glassine/io/files.h"
#include "glassine/recovery/encoder.h"
#include "glassine/recovery/locator.h"
#include "glassine/recovery/rebuilder.h"

#include <chrono>
#include <cstdio>
#include <cstring>
#include <ctime>
#include <fstream>
#include <functional>
#include <map>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include <fmt/format.h>
#include <sys/resource.h>

namespace {

using namespace glassine;
using namespace glassine::recovery;

constexpr std::size_t file_size_mb = 20;
constexpr std::size_t piece = 512u << 10;
constexpr std::size_t pieces = 96;  // as the pool of the flow has

struct Took {
    double clock = 0;
    double processor = 0;
};

Took took(const std::function<void()>& work) {
    const std::clock_t processor = std::clock();
    const auto clock = std::chrono::steady_clock::now();
    work();
    return {std::chrono::duration<double>(std::chrono::steady_clock::now() - clock).count(),
            static_cast<double>(std::clock() - processor) / CLOCKS_PER_SEC};
}

std::vector<std::byte> noise(std::size_t size) {
    std::mt19937_64 random(1);
    std::vector<std::byte> bytes(size);
    for (std::size_t i = 0; i + 8 <= size; i += 8) {
        const std::uint64_t word = random();
        std::memcpy(&bytes[i], &word, 8);
    }
    return bytes;
}

/// Takes everything and keeps only what was asked for.
class Swallow : public flow::Sink {
  public:
    digest::Hasher hasher{digest::Algorithm::sha256};
    std::unique_ptr<flow::Stream> open(const flow::Item&) override {
        return std::make_unique<Stream>(*this);
    }
    bool hashing = false;

  private:
    class Stream : public flow::Stream {
      public:
        explicit Stream(Swallow& sink) : sink_(sink) {}
        void block(std::uint64_t, std::span<const std::byte> bytes) override {
            if (sink_.hashing) sink_.hasher.update(bytes);
        }
        void finish(const flow::Outcome&) override {}

      private:
        Swallow& sink_;
    };
};

void check_the_answer() {
    std::string a;
    for (int i = 0; i < 100; ++i)
        a.push_back(static_cast<char>(7 * i));
    Options options;
    options.block_size = 64;
    Swallow sink;
    sink.hashing = true;
    Encoder encoder(options, {{"data/a.txt", 100}, {"data/b.txt", 14}, {"data/none", 0}}, {&sink});
    encoder.put("data/a.txt", a);
    encoder.put("data/b.txt", "Hello, world!\n");
    encoder.put("data/none", "");
    encoder.finish();
    if (sink.hasher.finish().hex() !=
        "841b5f71d5c98a732280eb287ce1ac9b1da5864d729d5a99dce16c823e48f775") {
        std::puts("the encoder is wrong");
        std::exit(1);
    }
}

class Bytes {
  public:
    std::span<const std::byte> at(std::size_t file, std::uint64_t offset,
                                  std::size_t length) const {
        const std::size_t number = (file * 41 + offset / piece) % pieces;
        return std::span(bytes_).subspan(number * piece, length);
    }

  private:
    std::vector<std::byte> bytes_ = noise(pieces * piece);
};

void feed(Encoder& encoder, const Bytes& bytes, std::string_view name, std::uint64_t size) {
    flow::Item item;
    item.name = name;
    const auto stream = encoder.open(item);
    const std::size_t file = std::hash<std::string_view>{}(name) % 1000;
    for (std::uint64_t at = 0; at < size; at += piece) {
        stream->block(at, bytes.at(file, at, std::min<std::uint64_t>(piece, size - at)));
    }
    stream->finish({});
}

Took encode(const Bytes& bytes, std::size_t files, unsigned threads) {
    const std::uint64_t size = file_size_mb * 1'000'000;
    std::vector<FileSize> list;
    for (std::size_t i = 0; i < files; ++i)
        list.push_back({fmt::format("data/{:05}", i), size});
    Swallow sink;
    Encoder encoder(Options{}, list, {&sink});
    return took([&] {
        for (const auto& set : encoder.reading_sets()) {
            std::vector<std::thread> workers;
            for (unsigned t = 0; t < threads; ++t) {
                workers.emplace_back([&, t] {
                    for (std::size_t i = t; i < set.size(); i += threads)
                        feed(encoder, bytes, set[i], size);
                });
            }
            for (auto& worker : workers)
                worker.join();
        }
        encoder.finish();
    });
}

Took over_all(const Bytes& bytes, std::size_t files,
              const std::function<void(std::span<const std::byte>)>& work) {
    return took([&] {
        for (std::size_t file = 0; file < files; ++file) {
            for (std::uint64_t at = 0; at < file_size_mb * 1'000'000; at += piece) {
                work(bytes.at(file, at,
                              std::min<std::uint64_t>(piece, file_size_mb * 1'000'000 - at)));
            }
        }
    });
}

Took best_of(int rounds, const std::function<Took()>& once) {
    Took best{1e9, 1e9};
    for (int i = 0; i < rounds; ++i) {
        const Took now = once();
        best = {std::min(best.clock, now.clock), std::min(best.processor, now.processor)};
    }
    return best;
}

void speed(std::size_t megabytes) {
    check_the_answer();
    const Bytes bytes;
    const std::size_t files = megabytes / file_size_mb;
    const double gigabytes = static_cast<double>(files * file_size_mb) / 1000;
    std::vector<std::byte> copy(piece);
    volatile Check kept = 0;
    digest::Hasher sha512(digest::Algorithm::sha512);

    const Took hash =
        best_of(2, [&] { return over_all(bytes, files, [&](auto b) { sha512.update(b); }); });
    const auto tell = [&](const char* what, const Took& t) {
        fmt::print(
            "{:24} {:6.2f} GB/s by the clock, {:6.2f} GB/s by processor time: {:5.3f} of SHA-512\n",
            what, gigabytes / t.clock, gigabytes / t.processor, t.processor / hash.processor);
    };
    tell("SHA-512", hash);
    tell("copying", best_of(3, [&] {
             return over_all(bytes, files,
                             [&](auto b) { std::memcpy(copy.data(), b.data(), b.size()); });
         }));
    tell("check values",
         best_of(3, [&] { return over_all(bytes, files, [&](auto b) { kept = check_of(b); }); }));
    tell("recovery, one thread", best_of(3, [&] { return encode(bytes, files, 1); }));
    tell("recovery, two threads", best_of(3, [&] { return encode(bytes, files, 2); }));
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    fmt::print("largest memory {} MiB\n", usage.ru_maxrss / 1024);
}

// The healing capacity, tried.

constexpr std::size_t bag_files = 64;
constexpr std::uint64_t bag_file_size = (std::uint64_t{2} << 30) / bag_files;

class FileSink : public flow::Sink {
  public:
    explicit FileSink(std::string folder) : folder_(std::move(folder)) {}
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override {
        return std::make_unique<Stream>(folder_ + "/" + item.name);
    }

  private:
    class Stream : public flow::Stream {
      public:
        explicit Stream(const std::string& path) : out_(path, std::ios::binary) {}
        void block(std::uint64_t, std::span<const std::byte> bytes) override {
            out_.write(reinterpret_cast<const char*>(bytes.data()),
                       static_cast<std::streamsize>(bytes.size()));
        }
        void finish(const flow::Outcome&) override {}

      private:
        std::ofstream out_;
    };
    std::string folder_;
};

struct Bag {
    std::string folder;
    std::map<std::string, std::string> digests;

    std::string make() {
        auto& files = io::posix_file_system();
        io::make_directories(files, folder + "/data");
        io::make_directories(files, folder + "/recovery");
        std::vector<FileSize> list;
        for (std::size_t i = 0; i < bag_files; ++i)
            list.push_back({fmt::format("data/{:03}.raw", i), bag_file_size});
        FileSink sink(folder);
        Encoder encoder(Options{}, list, {&sink});
        std::mt19937_64 random(2);
        std::string content(bag_file_size, '\0');
        for (const auto& file : list) {
            for (std::size_t at = 0; at < content.size(); at += 8) {
                const std::uint64_t word = random();
                std::memcpy(&content[at], &word, 8);
            }
            std::ofstream(folder + "/" + file.name, std::ios::binary) << content;
            digests[file.name] = digest::digest_of(digest::Algorithm::sha512, content).hex();
            encoder.put(file.name, content);
        }
        return encoder.finish().at(0).name;
    }

    void overwrite(const std::string& name, std::uint64_t offset, const std::string& bytes) const {
        std::fstream file(folder + "/" + name, std::ios::binary | std::ios::in | std::ios::out);
        file.seekp(static_cast<std::streamoff>(offset));
        file << bytes;
    }
    std::string read(const std::string& name, std::uint64_t offset, std::size_t length) const {
        std::string bytes(length, '\0');
        std::ifstream file(folder + "/" + name, std::ios::binary);
        file.seekg(static_cast<std::streamoff>(offset));
        file.read(bytes.data(), static_cast<std::streamsize>(length));
        bytes.resize(static_cast<std::size_t>(file.gcount()));
        return bytes;
    }
};

struct Damage {
    std::string name;
    std::uint64_t offset = 0;
    std::size_t length = 0;
};

/// Proves each healed file by its digest.
class Proving : public HealedFiles {
  public:
    explicit Proving(const Bag& bag) : bag_(bag) {}
    std::size_t proven = 0;
    std::size_t wrong = 0;
    void begin(const std::string&, std::uint64_t) override {
        hasher_ = digest::Hasher(digest::Algorithm::sha512);
    }
    void bytes(std::span<const std::byte> bytes) override { hasher_.update(bytes); }
    void end(const Healed& healed) override {
        const bool right = hasher_.finish().hex() == bag_.digests.at(healed.name);
        ++(right ? proven : wrong);
    }
    void failed(const std::string&, const std::string&) override { ++wrong; }

  private:
    const Bag& bag_;
    digest::Hasher hasher_{digest::Algorithm::sha512};
};

/// True when every damaged file came back with its digest.
bool try_damage(const Bag& bag, const std::vector<Damage>& damages) {
    std::vector<std::string> before;
    for (const auto& damage : damages) {
        before.push_back(bag.read(damage.name, damage.offset, damage.length));
        bag.overwrite(damage.name, damage.offset, std::string(before.back().size(), '\xa5'));
    }
    auto& files = io::posix_file_system();
    Proving proving(bag);
    Outlook outlook;
    Took looking, healing;
    {
        RecoverySet set(files, bag.folder);
        std::vector<FileDamage> found;
        looking = took([&] { found = locate(files, bag.folder, set); });
        Rebuilder rebuilder(files, bag.folder, set, found);
        healing = took([&] { rebuilder.run(proving); });
        outlook = rebuilder.outlook();
    }
    for (std::size_t i = damages.size(); i-- > 0;)
        bag.overwrite(damages[i].name, damages[i].offset, before[i]);
    fmt::print(
        "  {}: {} files proven, {} wrong, {} beyond; located in {:.1f} s, rebuilt in {:.1f} s\n",
        describe(outlook), proving.proven, proving.wrong, outlook.beyond.size(), looking.clock,
        healing.clock);
    return proving.wrong == 0 && outlook.nothing_beyond();
}

std::vector<Damage> burst(std::uint64_t from, std::uint64_t length) {
    std::vector<Damage> damages;
    while (length > 0) {
        const std::uint64_t offset = from % bag_file_size;
        const std::uint64_t part = std::min(length, bag_file_size - offset);
        damages.push_back({fmt::format("data/{:03}.raw", from / bag_file_size), offset,
                           static_cast<std::size_t>(part)});
        from += part;
        length -= part;
    }
    return damages;
}

void heal(const std::string& folder, int trials) {
    Bag bag{folder + "/bag-of-2-gib", {}};
    const std::string recovery = bag.make();
    const std::uint64_t recovery_size =
        io::posix_file_system().info(bag.folder + "/" + recovery).size;
    constexpr std::uint64_t all = bag_file_size * bag_files;
    fmt::print("recovery data: {:.4f} % of 2 GiB\n",
               100.0 * static_cast<double>(recovery_size) / static_cast<double>(all));
    std::mt19937_64 random(3);
    int healed = 0;
    for (int i = 0; i < trials; ++i) {
        fmt::print("a burst of 64 MiB\n");
        healed += try_damage(bag, burst(random() % (all - (64u << 20)), 64u << 20));
        fmt::print("1,000 sectors of 4 KiB, recovery data included\n");
        std::vector<Damage> sectors;
        for (int s = 0; s < 1000; ++s) {
            const std::uint64_t at = random() % (all + recovery_size) / 4096 * 4096;
            if (at < all) {
                sectors.push_back(burst(at, 4096)[0]);
            } else {
                sectors.push_back({recovery, at - all, 4096});
            }
        }
        healed += try_damage(bag, sectors);
    }
    fmt::print("healed {} of {}\n", healed, 2 * trials);
    io::remove_tree(io::posix_file_system(), bag.folder);
}

}  // namespace

int main(int count, char** words) {
    const std::string what = count > 1 ? words[1] : "";
    if (what == "speed") {
        speed(count > 2 ? std::stoul(words[2]) : 4000);
    } else if (what == "heal" && count > 2) {
        heal(words[2], count > 3 ? std::stoi(words[3]) : 5);
    } else {
        std::puts("bench_recovery speed [MEGABYTES] | heal FOLDER [TRIALS]");
        return 2;
    }
}
