#include "csv_reader.h"

#include "glassine/base/error.h"

#include <algorithm>
#include <utility>

namespace glassine::job {

void CsvReader::refuse(std::string why) const {
    throw Error(Cause::malformed, "read the list of frames", path_,
                "line " + std::to_string(line_) + ": " + std::move(why),
                "audit the bag; if it is sound, the file was written by another program");
}

std::optional<std::vector<std::string>> CsvReader::next() {
    if (rest_.empty()) return std::nullopt;
    line_ = next_line_;
    std::vector<std::string> fields{field()};
    while (!rest_.empty() && rest_.front() == ',') {
        rest_.remove_prefix(1);
        fields.push_back(field());
    }
    if (rest_.starts_with("\r\n"))
        rest_.remove_prefix(2);
    else if (rest_.starts_with("\n"))
        rest_.remove_prefix(1);
    else if (!rest_.empty())
        refuse("there is text behind a quoted field");
    ++next_line_;
    return fields;
}

std::string CsvReader::field() {
    if (!rest_.empty() && rest_.front() == '"') return quoted();
    std::size_t end = rest_.find_first_of(",\n");
    if (end == std::string_view::npos) end = rest_.size();
    if (end > 0 && end < rest_.size() && rest_[end] == '\n' && rest_[end - 1] == '\r') --end;
    std::string text(rest_.substr(0, end));
    if (text.find('"') != std::string::npos) refuse("there is a quote inside an unquoted field");
    rest_.remove_prefix(end);
    return text;
}

std::string CsvReader::quoted() {
    std::string text;
    rest_.remove_prefix(1);
    while (true) {
        const std::size_t quote = rest_.find('"');
        if (quote == std::string_view::npos) refuse("a quoted field does not end");
        text += rest_.substr(0, quote);
        rest_.remove_prefix(quote + 1);
        if (!rest_.starts_with('"')) break;
        text += '"';
        rest_.remove_prefix(1);
    }
    next_line_ += static_cast<std::size_t>(std::ranges::count(text, '\n'));
    return text;
}

}  // namespace glassine::job
