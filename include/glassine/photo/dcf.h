#pragma once

#include <optional>
#include <string>
#include <string_view>

/// Names that cameras give: the Design rule for Camera File system, DCF 2.0 (CIPA DC-009, JEITA
/// CP-3461).
///
/// A card holds `DCIM/100ABCDE/ABCD0001.JPG`. Case does not count; names come back in upper case.
namespace glassine::photo::dcf {

/// A directory below DCIM: three digits 100 to 999 and five free characters (0-9, A-Z, _).
struct FolderName {
    int number = 0;
    std::string free_characters;
    bool operator==(const FolderName&) const = default;
};

/// A file: four free characters and four digits 0001 to 9999. Files of one folder with the same
/// eight characters are one DCF object (JPEG + raw + sound).
struct FileName {
    std::string prefix;
    int number = 0;
    std::string extension;  ///< without the dot, may be empty
    bool operator==(const FileName&) const = default;
};

inline constexpr int last_number = 9999;

std::optional<FolderName> parse_folder_name(std::string_view name);
/// `name` is the last part of a path. Nothing for names that people gave ("ABCD0001-2.jpg") and for
/// 0000, which is not a DCF number.
std::optional<FileName> parse_file_name(std::string_view name);

/// How many shots lie from number `a` to number `b` of one body whose counter wraps from 9999 to
/// 0001: 0 to 9998. `steps(9999, 1)` is 1, `steps(9998, 2)` is 3. Both numbers are 1 to 9999.
constexpr int steps(int a, int b) {
    const int difference = (b - a) % last_number;
    return difference < 0 ? difference + last_number : difference;
}

/// Numbers that are missing between neighbours; the same number twice misses nothing.
constexpr int missing_between(int a, int b) {
    return steps(a, b) == 0 ? 0 : steps(a, b) - 1;
}

/// The number that follows: 1 after 9999.
constexpr int next(int number) {
    return number >= last_number ? 1 : number + 1;
}

}  // namespace glassine::photo::dcf
