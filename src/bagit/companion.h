#pragma once

#include "glassine/bagit/listing.h"
#include "glassine/bagit/text_lines.h"
#include "glassine/base/finding.h"
#include "glassine/digest/digest.h"

#include <functional>
#include <optional>
#include <string>
#include <string_view>

/// The checksum of a tag file in BagIt 0.93 and 0.94: a file `NAME.ALGORITHM` beside it, of one
/// line.
namespace glassine::bagit {

struct CompanionName {
    std::string_view of;  ///< "manifest-md5.txt"
    digest::Algorithm algorithm;
};
std::optional<CompanionName> companion_name(std::string_view file_name);

class CompanionParser {
  public:
    using Report = std::function<void(Finding)>;
    CompanionParser(std::string file, digest::Algorithm algorithm, const Encoding& encoding,
                    Report report);
    CompanionParser(const CompanionParser&) = delete;
    void feed(std::span<const std::byte> bytes) { lines_.feed(bytes); }
    void gap(std::uint64_t length) { lines_.gap(length); }
    /// The digest, or nothing when the file holds none (which is reported).
    std::optional<digest::Value> finish();

  private:
    void line(const Line& line);

    std::string file_;
    digest::Algorithm algorithm_;
    Report report_;
    std::optional<digest::Value> value_;
    std::uint64_t further_lines_ = 0;
    bool torn_ = false;
    LineReader lines_;
};

}  // namespace glassine::bagit
