#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::job {

/// Reads RFC 4180 records one at a time; CRLF or LF end a line. Throws Error `malformed` with the
/// line for a quote that is not closed, or text around a quoted field.
class CsvReader {
  public:
    CsvReader(std::string_view csv, std::string path) : rest_(csv), path_(std::move(path)) {}

    /// The fields of the next record; nothing at the end.
    std::optional<std::vector<std::string>> next();
    /// The line on which the record last given began, from 1.
    std::size_t line() const { return line_; }

    [[noreturn]] void refuse(std::string why) const;

  private:
    std::string field();
    std::string quoted();

    std::string_view rest_;
    std::string path_;
    std::size_t line_ = 0;
    std::size_t next_line_ = 1;
};

}  // namespace glassine::job
