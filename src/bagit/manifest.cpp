#include "glassine/bagit/manifest.h"

#include "glassine/bagit/path.h"

#include <algorithm>

namespace glassine::bagit {
namespace {

constexpr std::uint32_t last_line = (1u << 31) - 1;

}  // namespace

Manifest::Manifest(std::string file, ManifestName name)
    : file_(std::move(file)),
      name_(std::move(name)),
      digest_size_(name_.computable ? digest::size(*name_.computable) : 0),
      digests_(digest_size_) {}

Manifest::Entry Manifest::operator[](std::uint32_t index) const {
    const Record& record = records_[index];
    Entry entry{{record.path, record.length}, {}, record.line};
    if (record.has_digest) entry.digest = digests_[index];
    return entry;
}

void Manifest::add(std::string_view path, std::span<const std::byte> digest, std::uint32_t line) {
    const std::string_view kept = paths_.add(path);
    const bool has_digest = digest_size_ > 0 && digest.size() == digest_size_;
    records_.push_back({kept.data(), static_cast<std::uint32_t>(kept.size()),
                        std::min(line, last_line), has_digest});
    if (digest_size_ == 0) return;
    std::byte* at = digests_.push_back();
    if (has_digest)
        std::ranges::copy(digest, at);
    else
        std::fill_n(at, digest_size_, std::byte{0});
}

void Manifest::rename(std::uint32_t index, std::string_view path) {
    const std::string_view kept = paths_.add(path);
    records_[index].path = kept.data();
    records_[index].length = static_cast<std::uint32_t>(kept.size());
}

std::string manifest_line(const digest::Value& digest, std::string_view path) {
    return digest.hex() + "  " + encode_path(path) + "\n";
}

std::string manifest_text(std::vector<ManifestLine> lines) {
    std::ranges::sort(lines, {}, &ManifestLine::path);
    std::string out;
    for (const ManifestLine& line : lines)
        out += manifest_line(line.digest, line.path);
    return out;
}

}  // namespace glassine::bagit
