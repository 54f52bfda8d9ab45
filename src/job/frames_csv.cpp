#include "glassine/job/frames_csv.h"

#include "csv_reader.h"
#include "glassine/base/error.h"
#include "glassine/base/text.h"

#include <algorithm>
#include <array>
#include <functional>
#include <unordered_map>
#include <utility>

#include <fmt/format.h>

namespace glassine::job {
namespace {

/// Between the paths of one field: no path of a bag has two slashes in a row.
constexpr std::string_view between = "//";

constexpr std::array columns{"frame",
                             "make",
                             "model",
                             "serial",
                             "captured",
                             "state",
                             "originals",
                             "sidecars",
                             "print",
                             "web",
                             "proxies",
                             "rejected_raws",
                             "rejected_raws_sha512",
                             "broken",
                             "thumbnail"};

/// Added later: bags sealed before have none.
constexpr std::string_view newest_column = "thumbnail";

/// The columns that hold paths.
constexpr std::array path_columns{
    std::pair("originals", &FrameRow::originals), std::pair("sidecars", &FrameRow::sidecars),
    std::pair("print", &FrameRow::print),         std::pair("web", &FrameRow::web),
    std::pair("proxies", &FrameRow::proxies),     std::pair("broken", &FrameRow::broken)};

constexpr std::array text_columns{
    std::pair("frame", &FrameRow::frame),       std::pair("make", &FrameRow::make),
    std::pair("model", &FrameRow::model),       std::pair("serial", &FrameRow::serial),
    std::pair("captured", &FrameRow::captured), std::pair("state", &FrameRow::state)};

/// CR, LF and % as in manifests (RFC 8493 §2.1.3), and every byte of a name that is not UTF-8
/// likewise.
std::string encoded(std::string_view path) {
    const bool clean = text::is_utf8(path);
    std::string out;
    for (const char c : path) {
        const auto byte = static_cast<unsigned char>(c);
        if (c == '%' || c == '\r' || c == '\n' || (!clean && byte >= 0x80))
            out += fmt::format("%{:02X}", byte);
        else
            out += c;
    }
    return out;
}

std::string decoded(std::string_view field) {
    std::string out;
    for (std::size_t i = 0; i < field.size(); ++i) {
        std::vector<std::byte> byte;
        if (field[i] == '%' && field.size() - i >= 3 &&
            text::from_hex(field.substr(i + 1, 2), byte)) {
            out += static_cast<char>(byte.front());
            i += 2;
        } else {
            out += field[i];
        }
    }
    return out;
}

std::string joined(const std::vector<std::string>& paths) {
    std::string all;
    for (const std::string& path : paths) {
        if (!all.empty()) all += between;
        all += encoded(path);
    }
    return all;
}

std::vector<std::string> split(std::string_view field) {
    std::vector<std::string> parts;
    while (!field.empty()) {
        const std::size_t end = std::min(field.find(between), field.size());
        parts.emplace_back(field.substr(0, end));
        field.remove_prefix(std::min(end + between.size(), field.size()));
    }
    return parts;
}

/// `text::for_csv` puts an apostrophe before what a spreadsheet would run as a formula. One more
/// before a field that begins with an apostrophe makes that reversible.
std::string guarded(const std::string& field) {
    return text::for_csv(field.starts_with('\'') ? '\'' + field : field);
}

std::string unguarded(std::string field) {
    constexpr std::string_view guarded_fronts = "=+-@\t\r'";
    const bool guard =
        field.size() > 1 && field[0] == '\'' && guarded_fronts.find(field[1]) != std::string::npos;
    if (guard) field.erase(0, 1);
    return field;
}

using Fields = std::unordered_map<std::string_view, std::string>;

std::string line_of(const FrameRow& row) {
    Fields fields;
    for (const auto& [column, member] : text_columns)
        fields[column] = row.*member;
    for (const auto& [column, member] : path_columns)
        fields[column] = joined(row.*member);
    fields["thumbnail"] = encoded(row.thumbnail);
    std::string& raws = fields["rejected_raws"];
    std::string& digests = fields["rejected_raws_sha512"];
    for (const RejectedRaw& raw : row.rejected_raws) {
        if (!raws.empty()) {
            raws += between;
            digests += between;
        }
        raws += encoded(raw.path);
        digests += raw.sha512.empty() ? "unknown" : raw.sha512.hex();
    }
    std::string line;
    for (const char* column : columns) {
        if (!line.empty() || column != columns.front()) line += ',';
        line += guarded(fields[column]);
    }
    return line + "\r\n";
}

class Parser {
  public:
    Parser(std::string_view csv, const std::string& path) : reader_(csv, path) {}

    std::vector<FrameRow> run() {
        const auto header = reader_.next();
        if (!header) reader_.refuse("the file is empty");
        names_ = *header;
        for (const char* column : columns) {
            if (column == newest_column && std::ranges::count(names_, column) == 0) continue;
            if (std::ranges::count(names_, column) != 1)
                reader_.refuse(fmt::format("the column {} is not there exactly once", column));
        }
        std::vector<FrameRow> rows;
        while (auto fields = reader_.next())
            rows.push_back(row(std::move(*fields)));
        return rows;
    }

  private:
    FrameRow row(std::vector<std::string> values) const {
        if (values.size() != names_.size()) {
            reader_.refuse(fmt::format("there are {} fields where the header has {}", values.size(),
                                       names_.size()));
        }
        Fields fields;
        for (std::size_t i = 0; i < values.size(); ++i)
            fields[names_[i]] = unguarded(std::move(values[i]));
        FrameRow row;
        for (const auto& [column, member] : text_columns)
            row.*member = fields[column];
        for (const auto& [column, member] : path_columns) {
            for (const std::string& path : split(fields[column]))
                (row.*member).push_back(decoded(path));
        }
        row.thumbnail = decoded(fields["thumbnail"]);
        const auto raws = split(fields["rejected_raws"]);
        const auto digests = split(fields["rejected_raws_sha512"]);
        if (raws.size() != digests.size())
            reader_.refuse("there are not as many digests as rejected raws");
        for (std::size_t i = 0; i < raws.size(); ++i)
            row.rejected_raws.push_back({decoded(raws[i]), digest_of(digests[i])});
        return row;
    }

    digest::Value digest_of(const std::string& hex) const {
        if (hex == "unknown") return {};
        const auto value = digest::Value::from_hex(hex);
        if (!value || value->bytes().size() != digest::size(digest::Algorithm::sha512))
            reader_.refuse("the digest of a rejected raw is no SHA-512");
        return *value;
    }

    CsvReader reader_;
    std::vector<std::string> names_;
};

}  // namespace

std::string frames_csv(std::span<const FrameRow> rows) {
    std::string csv;
    for (const char* column : columns) {
        if (!csv.empty()) csv += ',';
        csv += column;
    }
    csv += "\r\n";
    for (const FrameRow& row : rows)
        csv += line_of(row);
    return csv;
}

std::vector<FrameRow> parse_frames_csv(std::string_view csv, const std::string& path) {
    return Parser(csv, path).run();
}

}  // namespace glassine::job
