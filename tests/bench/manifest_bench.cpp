// How fast a payload manifest of 1,000,000 entries is read, beside a bare search of the same bytes
// for line ends (memchr), which no reader of lines can beat.
//
//   bench_manifest [ENTRIES]      1,000,000 by default
//
// The answer is checked first: every path and every digest must come back. Each figure is the best
// of five rounds; the ratio travels between machines better than MB/s.

#include "glassine/bagit/manifest.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <ctime>
#include <fstream>
#include <span>
#include <string>

#include <fmt/format.h>

namespace {

using namespace glassine;
using namespace glassine::bagit;

constexpr int rounds = 5;
constexpr std::size_t step = 512u << 10;  // bytes: the river's block

/// The digest of entry i; any bytes will do.
digest::Value digest_of_entry(std::uint64_t i) {
    std::array<std::byte, 64> bytes;
    for (std::size_t b = 0; b < bytes.size(); ++b) {
        i = i * 6364136223846793005u + 1442695040888963407u;
        bytes[b] = static_cast<std::byte>(i >> 56);
    }
    return digest::Value(bytes);
}

std::string path_of_entry(std::uint64_t i) {
    return fmt::format("data/originals/day-{:03}/AX1_{:07}.raw", i / 2000, i);
}

Manifest parse(const std::string& text) {
    Manifest manifest("manifest-sha512.txt", *manifest_name("manifest-sha512.txt"));
    ManifestParser parser(manifest, encoding_named("UTF-8"), rules_for("1.0"), [](Finding f) {
        fmt::print(stderr, "unexpected finding: {}\n", f.detail);
        std::exit(1);
    });
    const auto bytes = std::as_bytes(std::span(text));
    for (std::size_t at = 0; at < bytes.size(); at += step)
        parser.feed(bytes.subspan(at, std::min(step, bytes.size() - at)));
    parser.finish();
    return manifest;
}

std::size_t count_lines(const std::string& text) {
    std::size_t lines = 0;
    const char* at = text.data();
    const char* end = at + text.size();
    while (const void* found = std::memchr(at, '\n', static_cast<std::size_t>(end - at))) {
        at = static_cast<const char*>(found) + 1;
        ++lines;
    }
    return lines;
}

template <typename Work>
double best_seconds(Work&& work) {
    double best = 1e9;
    for (int i = 0; i < rounds; ++i) {
        const std::clock_t start = std::clock();
        work();
        best = std::min(best, static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC);
    }
    return best;
}

void check(const std::string& text, std::uint64_t entries) {
    const Manifest manifest = parse(text);
    bool right = manifest.size() == entries;
    for (std::uint32_t i = 0; right && i < entries; ++i)
        right = manifest[i].path == path_of_entry(i) &&
                digest::Value(manifest[i].digest) == digest_of_entry(i);
    if (right) return;
    fmt::print(stderr, "the manifest was not read right\n");
    std::exit(1);
}

/// "VmHWM:   123456 kB": the most memory that the process ever had.
std::string peak_memory() {
    std::ifstream status("/proc/self/status");
    for (std::string line; std::getline(status, line);)
        if (line.starts_with("VmHWM")) return line;
    return {};
}

}  // namespace

int main(int argc, char** argv) {
    const std::uint64_t entries = argc > 1 ? std::strtoull(argv[1], nullptr, 10) : 1'000'000;
    std::string text;
    for (std::uint64_t i = 0; i < entries; ++i)
        text += manifest_line(digest_of_entry(i), path_of_entry(i));
    check(text, entries);

    std::size_t lines = 0;
    const double scan = best_seconds([&] { lines = count_lines(text); });
    const double read = best_seconds([&] { parse(text); });
    const double megabytes = static_cast<double>(text.size()) / 1e6;
#ifndef NDEBUG
    fmt::print("warning: built with assertions\n");
#endif
    fmt::print("{} entries, {:.1f} MB\n", lines, megabytes);
    fmt::print("memchr for line ends  {:8.0f} MB/s\n", megabytes / scan);
    fmt::print("manifest              {:8.0f} MB/s   {:.3f} of memchr\n", megabytes / read,
               scan / read);
    fmt::print("peak memory (with the text itself)  {}\n", peak_memory());
    return 0;
}
