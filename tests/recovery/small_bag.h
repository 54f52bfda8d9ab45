#pragma once

#include "glassine/io/file_system.h"
#include "glassine/recovery/encoder.h"
#include "glassine/recovery/rebuilder.h"

#include <algorithm>
#include <cstring>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

namespace glassine::test {

/// File names and contents.
using Contents = std::map<std::string, std::string>;

inline std::span<const std::byte> bytes_of(const std::string& text) {
    return std::as_bytes(std::span(text.data(), text.size()));
}

/// Files in memory, for thousands of small bags: "COPY/data/a" is file "data/a" of the copy "COPY".
class MemoryFiles : public io::ForwardingFileSystem {
  public:
    MemoryFiles() : ForwardingFileSystem(io::posix_file_system()) {}

    std::map<std::string, Contents> copies;
    /// Sectors of 4096 bytes that cannot be read: path and number.
    std::map<std::string, std::vector<std::uint64_t>> unreadable;

    std::unique_ptr<io::InputFile> open(const io::Path& path, io::Cache) override {
        const std::string* content = find_content(path);
        if (content == nullptr)
            throw Error(Cause::not_found, "open", path.string(), "there is no such file");
        return std::make_unique<Input>(*this, path.string(), *content);
    }
    std::vector<io::DirectoryEntry> list(const io::Path& directory) override {
        const std::string copy = directory.parent_path().string();
        const std::string prefix = directory.filename().string() + "/";
        std::vector<io::DirectoryEntry> entries;
        for (const auto& [name, content] : copies[copy]) {
            if (name.starts_with(prefix))
                entries.push_back({name.substr(prefix.size()), io::FileType::regular});
        }
        return entries;
    }

  private:
    class Input : public io::InputFile {
      public:
        Input(MemoryFiles& files, std::string path, const std::string& content)
            : files_(files), path_(std::move(path)), content_(content) {}
        std::size_t read(std::uint64_t offset, std::span<std::byte> into) override {
            if (offset >= content_.size()) return 0;
            const std::size_t length = std::min<std::size_t>(into.size(), content_.size() - offset);
            if (const auto bad = files_.unreadable.find(path_); bad != files_.unreadable.end()) {
                for (const auto sector : bad->second) {
                    if (sector * 4096 < offset + length && offset < (sector + 1) * 4096) {
                        throw Error(Cause::unreadable, "read", path_, "the medium gives an error");
                    }
                }
            }
            std::memcpy(into.data(), content_.data() + offset, length);
            return length;
        }
        io::FileInfo info() override {
            io::FileInfo info;
            info.type = io::FileType::regular;
            info.size = content_.size();
            return info;
        }

      private:
        MemoryFiles& files_;
        std::string path_;
        const std::string& content_;
    };

    const std::string* find_content(const io::Path& path) const {
        const std::string whole = path.string();
        const auto slash = whole.find('/');
        const auto copy = copies.find(whole.substr(0, slash));
        if (copy == copies.end() || slash == std::string::npos) return nullptr;
        const auto file = copy->second.find(whole.substr(slash + 1));
        return file == copy->second.end() ? nullptr : &file->second;
    }
};

/// Keeps what is written to it.
class KeepingSink : public flow::Sink {
  public:
    Contents kept;
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override {
        const std::lock_guard lock(mutex_);
        return std::make_unique<Keeping>(kept[item.name]);
    }

  private:
    class Keeping : public flow::Stream {
      public:
        explicit Keeping(std::string& into) : into_(into) {}
        void block(std::uint64_t offset, std::span<const std::byte> bytes) override {
            if (offset != into_.size()) throw std::logic_error("bytes out of order");
            into_.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
        }
        void finish(const flow::Outcome&) override {}

      private:
        std::string& into_;
    };
    std::mutex mutex_;
};

inline std::vector<recovery::FileSize> sizes_of(const Contents& files, bool payload) {
    std::vector<recovery::FileSize> sizes;
    for (const auto& [name, content] : files) {
        if (name.starts_with("data/") == payload && !name.starts_with("recovery/")) {
            sizes.push_back({name, content.size()});
        }
    }
    return sizes;
}

/// The recovery files for these files.
inline Contents recovery_for(const Contents& files, const recovery::Options& options) {
    KeepingSink sink;
    recovery::Encoder encoder(options, sizes_of(files, true), {&sink});
    for (const auto& set : encoder.reading_sets()) {
        for (const auto name : set)
            encoder.put(name, files.at(std::string(name)));
    }
    const auto tags = sizes_of(files, false);
    if (!tags.empty()) encoder.add_tag_files(tags);
    for (const auto& tag : tags)
        encoder.put(tag.name, files.at(tag.name));
    encoder.finish();
    return sink.kept;
}

/// Options for tests: small blocks make small bags behave like large ones.
inline recovery::Options small_blocks(std::uint32_t block_size = 64, std::uint32_t percent = 500) {
    recovery::Options options;
    options.percent = percent;
    options.block_size = block_size;
    return options;
}

/// Keeps the healed files.
class KeepingReceiver : public recovery::HealedFiles {
  public:
    Contents healed;
    std::map<std::string, recovery::Healed> told;
    std::map<std::string, std::string> failures;
    void begin(const std::string& name, std::uint64_t) override {
        content_ = name, healed[name].clear();
    }
    void bytes(std::span<const std::byte> bytes) override {
        healed[content_].append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
    }
    void end(const recovery::Healed& what) override { told[what.name] = what; }
    void failed(const std::string& name, const std::string& why) override {
        failures[name] = why;
        healed.erase(name);
    }

  private:
    std::string content_;
};

}  // namespace glassine::test
