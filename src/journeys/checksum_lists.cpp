#include "journeys/checksum_lists.h"

#include "glassine/base/text.h"
#include "glassine/io/files.h"

#include <algorithm>
#include <array>
#include <optional>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using digest::Algorithm;

constexpr std::uint64_t largest_list = 256u << 20;

/// One line of a list.
struct Line {
    digest::Value digest;
    std::string name;
};

bool is_hex_digit(char c) {
    return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F');
}

std::optional<Algorithm> by_size(std::size_t bytes) {
    for (const Algorithm algorithm : digest::all_algorithms)
        if (digest::size(algorithm) == bytes) return algorithm;
    return std::nullopt;
}

/// `\\`, `\n` and `\r` as coreutils write them.
std::string unescaped(std::string_view name) {
    std::string out;
    for (std::size_t i = 0; i < name.size(); ++i) {
        if (name[i] != '\\' || i + 1 == name.size()) {
            out += name[i];
            continue;
        }
        const char c = name[++i];
        out += c == 'n' ? '\n' : c == 'r' ? '\r' : c;
    }
    return out;
}

/// "HEX  name", "HEX *name".
std::optional<Line> plain_line(std::string_view line) {
    const auto end =
        static_cast<std::size_t>(std::ranges::find_if_not(line, is_hex_digit) - line.begin());
    if (end + 2 >= line.size() || line[end] != ' ') return std::nullopt;
    if (line[end + 1] != ' ' && line[end + 1] != '*') return std::nullopt;
    const auto digest = digest::Value::from_hex(line.substr(0, end));
    if (!digest) return std::nullopt;
    return Line{*digest, std::string(line.substr(end + 2))};
}

/// "SHA256 (name) = HEX".
std::optional<Line> tagged_line(std::string_view line) {
    const std::size_t open = line.find(" (");
    const std::size_t close = line.rfind(") = ");
    if (open == std::string_view::npos || close == std::string_view::npos || close < open + 2)
        return std::nullopt;
    const auto algorithm = digest::algorithm(line.substr(0, open));
    const auto digest = digest::Value::from_hex(line.substr(close + 4));
    if (!algorithm || !digest || digest->bytes().size() != digest::size(*algorithm))
        return std::nullopt;
    return Line{*digest, std::string(line.substr(open + 2, close - open - 2))};
}

std::optional<Line> parse(std::string_view line) {
    const bool escaped = line.starts_with('\\');
    if (escaped) line.remove_prefix(1);
    auto parsed = plain_line(line);
    if (!parsed) parsed = tagged_line(line);
    if (!parsed || !by_size(parsed->digest.bytes().size())) return std::nullopt;
    if (escaped) parsed->name = unescaped(parsed->name);
    return parsed;
}

}  // namespace

class ChecksumLists::Proving : public flow::Stream {
  public:
    Proving(ChecksumLists& owner, const flow::Item& item, std::vector<Algorithm> algorithms)
        : owner_(owner), path_(item.path), hashers_(algorithms) {}
    void block(std::uint64_t, std::span<const std::byte> bytes) override { hashers_.update(bytes); }
    void finish(const flow::Outcome& outcome) override {
        // What could not be read is told by whoever reads the job.
        if (outcome.status == flow::Status::whole) owner_.judge(path_, hashers_.finish());
    }

  private:
    ChecksumLists& owner_;
    std::string path_;
    digest::HasherSet hashers_;
};

bool ChecksumLists::may_be_list(std::string_view file_name) {
    const std::string name = text::ascii_lower(file_name);
    for (const Algorithm algorithm : digest::all_algorithms) {
        const std::string word(digest::name(algorithm));
        if (name.ends_with("." + word) || name.starts_with(word + "sum")) return true;
    }
    return name == "checksums.txt" || name == "checksums";
}

bool ChecksumLists::add(io::FileSystem& files, const io::Path& list, const std::string& shown) {
    const std::string content = io::read_small_file(files, list, largest_list);
    bool any = false;
    for (std::size_t at = 0; at < content.size();) {
        const std::size_t end = std::min(content.find('\n', at), content.size());
        std::string_view line(content.data() + at, end - at);
        if (line.ends_with('\r')) line.remove_suffix(1);
        if (parse(line)) {
            take_line(list.parent_path(), line, shown);
            any = true;
        }
        at = end + 1;
    }
    return any;
}

void ChecksumLists::take_line(const io::Path& folder, std::string_view text,
                              const std::string& shown) {
    const Line line = *parse(text);
    const std::string path = (folder / line.name).lexically_normal().string();
    wanted_[path].push_back({*by_size(line.digest.bytes().size()), line.digest, shown});
}

std::unique_ptr<flow::Stream> ChecksumLists::open(const flow::Item& item) {
    const auto at = wanted_.find(io::Path(item.path).lexically_normal().string());
    if (at == wanted_.end()) return nullptr;
    {
        const std::lock_guard lock(mutex_);
        seen_.insert(at->first);
    }
    std::vector<Algorithm> algorithms;
    for (const Listed& listed : at->second)
        algorithms.push_back(listed.algorithm);
    return std::make_unique<Proving>(*this, item, std::move(algorithms));
}

void ChecksumLists::judge(const std::string& path, const std::vector<digest::Value>& values) {
    const std::vector<Listed>& listed = wanted_.at(io::Path(path).lexically_normal().string());
    const std::lock_guard lock(mutex_);
    bool right = true;
    for (std::size_t i = 0; i < listed.size(); ++i) {
        if (values[i] == listed[i].digest) continue;
        right = false;
        wrong_.push_back(found(FindingKind::checksum_mismatch, path,
                               fmt::format("its {} is not the one in {}",
                                           digest::name(listed[i].algorithm), listed[i].list)));
    }
    if (right) proven_.insert(path);
}

std::vector<Finding> ChecksumLists::findings() const {
    const std::lock_guard lock(mutex_);
    std::vector<Finding> findings = wrong_;
    for (const auto& [path, listed] : wanted_)
        if (!seen_.contains(path))
            findings.push_back(
                found(FindingKind::checksum_mismatch, path,
                      fmt::format("{} lists it, but it is not there", listed.front().list)));
    return findings;
}

}  // namespace glassine::journeys
