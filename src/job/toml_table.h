#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include <toml++/toml.h>

namespace glassine::job {

/// One table of a settings file, read key by key. What was never asked for is unknown, and `done`
/// says so.
///
/// Every member throws Error `malformed` with line and column when the value has the wrong type or
/// lies outside its range. A key that is missing leaves the value as it is.
class TomlTable {
  public:
    /// `name` is empty for the top of the file; `table` may be nullptr (nothing set).
    TomlTable(const toml::table* table, std::string name, std::string path);

    void read(std::string_view key, std::string& into);
    void read(std::string_view key, std::vector<std::string>& into);
    void read(std::string_view key, unsigned& into, unsigned lowest, unsigned highest);
    /// All values of the table as text; nested tables are refused.
    void read_all(std::map<std::string, std::string>& into);

    /// The node itself for values with a form of their own; nullptr when the key is not set.
    const toml::node* node(std::string_view key);
    /// The text of `key`, for values with a form of their own; nullptr when it is not set.
    const std::string* text(std::string_view key);
    TomlTable table(std::string_view key);

    /// Throws for the first key that nobody asked for, naming the nearest known one.
    void done() const;

    [[noreturn]] void refuse(const toml::node& at, std::string_view key, std::string why,
                             std::string next) const;

  private:
    std::string full_name(std::string_view key) const;

    const toml::table* table_;
    std::string name_;
    std::string path_;
    std::vector<std::string> known_;
};

/// "line 3, column 7".
std::string place(const toml::source_region& region);

}  // namespace glassine::job
