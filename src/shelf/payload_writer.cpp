#include "shelf/register_inside.h"
#include "shelf/search_words.h"

#include <algorithm>
#include <map>
#include <set>
#include <string>
#include <tuple>
#include <unordered_map>
#include <unordered_set>
#include <utility>
#include <vector>

namespace glassine::shelf {

namespace {

/// "data/originals/KLA_0412.NEF" is the frame "KLA_0412" in the form "data/originals/" + ".NEF".
struct PathParts {
    std::string_view folder;  ///< with its last slash
    std::string_view stem;
    std::string_view extension;  ///< with its dot; empty if there is none
};

PathParts parts_of(std::string_view path) {
    PathParts parts;
    const std::size_t slash = path.rfind('/');
    const std::size_t name = slash == std::string_view::npos ? 0 : slash + 1;
    parts.folder = path.substr(0, name);
    parts.stem = path.substr(name);
    const std::size_t dot = parts.stem.rfind('.');
    if (dot != std::string_view::npos && dot != 0) {
        parts.extension = parts.stem.substr(dot);
        parts.stem = parts.stem.substr(0, dot);
    }
    return parts;
}

struct FileRow {
    std::int64_t frame;
    std::int64_t form;
    const digest::Value* digest;
};

bool by_digest(const FileRow& a, const FileRow& b) {
    const auto one = a.digest->bytes();
    const auto other = b.digest->bytes();
    return std::lexicographical_compare(one.begin(), one.end(), other.begin(), other.end());
}

/// Writes one bag's files; keeps the rows it has made or met at hand.
class PayloadWriter {
  public:
    PayloadWriter(sql::Database& database, std::int64_t bag) : database_(database), bag_(bag) {}

    /// The digest lives as long as the writer.
    void add(std::string_view path, const digest::Value& digest, bool rejected) {
        const PathParts parts = parts_of(path);
        files_.push_back({frame_row(parts.stem), form_row(parts, rejected), &digest});
    }

    /// In the order of the digests, so that the index on them is written from left to right.
    void write_files() {
        std::sort(files_.begin(), files_.end(), by_digest);
        std::int64_t last = 0;
        std::set<std::size_t> sizes;
        for (const FileRow& file : files_) {
            sizes.insert(file.digest->bytes().size());
            database_.run("INSERT INTO files(frame_id, form_id, digest) VALUES (?, ?, ?)",
                          file.frame, file.form, file.digest->bytes());
            last = database_.last_id();
        }
        for (const std::size_t bytes : sizes)
            database_.run("INSERT OR IGNORE INTO digest_sizes VALUES (?)", bytes);
        const auto files = static_cast<std::int64_t>(files_.size());
        const auto frames = static_cast<std::int64_t>(frames_.size());
        database_.run(
            "UPDATE bags SET first_frame = ?, last_frame = ?, first_file = ?, last_file = ? "
            "WHERE id = ?",
            last_frame_ - frames + 1, last_frame_, last - files + 1, last, bag_);
    }

    void write_words() {
        for (const std::string& word : words_)
            database_.run("INSERT OR IGNORE INTO words VALUES (?, ?)", word, bag_);
    }

  private:
    std::int64_t frame_row(std::string_view stem) {
        const auto known = frames_.find(stem);
        if (known != frames_.end()) return known->second;
        database_.run("INSERT INTO frames(bag_id, stem) VALUES (?, ?)", bag_, stem);
        const std::int64_t row = last_frame_ = database_.last_id();
        frames_.emplace(stem, row);
        for (std::string& word : search_words(stem))
            words_.insert(std::move(word));
        return row;
    }

    std::int64_t form_row(const PathParts& parts, bool rejected) {
        const auto key = std::tuple(parts.folder, parts.extension, rejected);
        const auto known = forms_.find(key);
        if (known != forms_.end()) return known->second;
        auto query = database_.query(
            "SELECT id FROM forms WHERE folder = ? AND extension = ? AND rejected = ?",
            parts.folder, parts.extension, rejected);
        std::int64_t row = 0;
        if (query.next()) {
            row = query.integer(0);
        } else {
            database_.run("INSERT INTO forms(folder, extension, rejected) VALUES (?, ?, ?)",
                          parts.folder, parts.extension, rejected);
            row = database_.last_id();
        }
        forms_.emplace(key, row);
        return row;
    }

    sql::Database& database_;
    std::int64_t bag_;
    // The views are of paths in the record, which outlives the writer.
    std::unordered_map<std::string_view, std::int64_t> frames_;
    std::map<std::tuple<std::string_view, std::string_view, bool>, std::int64_t> forms_;
    std::set<std::string> words_;
    std::vector<FileRow> files_;
    std::int64_t last_frame_ = 0;
};

}  // namespace

void write_payload(sql::Database& database, std::int64_t bag, const BagRecord& record) {
    PayloadWriter writer(database, bag);
    for (const PayloadFile& file : record.payload)
        writer.add(file.path, file.digest, false);
    if (!record.rejected.empty()) {
        std::unordered_set<std::string_view> sealed;
        for (const PayloadFile& file : record.payload)
            sealed.insert(file.path);
        for (const RejectedFile& raw : record.rejected) {
            // A rejected raw without a sealed proxy is held nowhere: it must not be found here.
            if (sealed.contains(raw.proxy)) writer.add(raw.name, raw.digest, true);
        }
    }
    writer.write_files();
    writer.write_words();
}

}  // namespace glassine::shelf
