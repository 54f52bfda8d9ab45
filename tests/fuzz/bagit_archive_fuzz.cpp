#include "bagit_input.h"
#include "glassine/bagit/archive.h"

#include <algorithm>
#include <cstring>

using namespace glassine;

namespace {

/// An archive in memory; nothing else is there, and nothing can be written.
class OneFile : public io::ForwardingFileSystem {
  public:
    explicit OneFile(std::span<const std::byte> content)
        : ForwardingFileSystem(io::posix_file_system()), content_(content) {}

    io::FileInfo info(const io::Path&) override {
        io::FileInfo info;
        info.type = io::FileType::regular;
        info.size = content_.size();
        return info;
    }
    std::optional<io::FileInfo> find(const io::Path& path) override { return info(path); }
    io::Path resolve(const io::Path& path) override { return path; }
    io::Volume volume(const io::Path&) override { return {}; }
    std::unique_ptr<io::InputFile> open(const io::Path& path, io::Cache) override {
        fuzz::require(path == "/bag.tar");
        return std::make_unique<Input>(*this);
    }
    std::unique_ptr<io::OutputFile> create(const io::Path&) override { std::abort(); }
    void make_directory(const io::Path&) override { std::abort(); }

  private:
    struct Input : io::InputFile {
        explicit Input(OneFile& file) : owner(file) {}
        std::size_t read(std::uint64_t offset, std::span<std::byte> into) override {
            if (offset >= owner.content_.size()) return 0;
            const std::size_t n =
                std::min<std::size_t>(into.size(), owner.content_.size() - offset);
            std::memcpy(into.data(), owner.content_.data() + offset, n);
            return n;
        }
        io::FileInfo info() override { return owner.info({}); }
        OneFile& owner;
    };
    std::span<const std::byte> content_;
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    OneFile files(std::as_bytes(std::span(data, size)));
    bagit::ArchiveLimits limits;
    limits.always = 1u << 20;
    limits.members = 1000;
    limits.tag_bytes = 256u << 10;
    bagit::CheckOptions options;
    options.flow.resources = {1, 4096, 16};
    options.most_findings = 1000;
    const auto report = bagit::check_archive(files, "/bag.tar", options, limits);
    fuzz::require(report.valid.has_value());
    if (*report.valid) fuzz::require(report.complete);
    for (const Finding& finding : report.findings)
        fuzz::require(finding.detail.size() < 2000);
    return 0;
}
