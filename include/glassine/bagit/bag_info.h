#pragma once

#include "glassine/bagit/rules.h"
#include "glassine/bagit/text_lines.h"
#include "glassine/base/finding.h"

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// bag-info.txt: an ordered list of labels and values (8493 §2.2.2).
namespace glassine::bagit {

/// One element. A value that continues over several lines keeps its line breaks as '\n' without the
/// indentation; `unfolded` is the form for people and for comparing.
struct Element {
    std::string label;
    std::string value;
    bool operator==(const Element&) const = default;
};

/// Line breaks become one blank.
std::string unfolded(std::string_view value);

/// In the order of the file. Labels are compared blind to ASCII case, reserved ones because
/// §2.2.2-8 says so, others because two that differ only in case are never meant to be different.
class BagInfo {
  public:
    void add(std::string label, std::string value) {
        elements_.push_back({std::move(label), std::move(value)});
    }
    const std::vector<Element>& elements() const { return elements_; }
    bool empty() const { return elements_.empty(); }
    /// All values of a label, unfolded, in order.
    std::vector<std::string> values(std::string_view label) const;
    /// The first of them.
    std::optional<std::string> value(std::string_view label) const;

  private:
    friend class BagInfoParser;
    std::vector<Element> elements_;
};

/// Payload-Oxum: bytes and number of all payload files.
struct Oxum {
    std::uint64_t bytes = 0;
    std::uint64_t files = 0;
    bool operator==(const Oxum&) const = default;
};
std::optional<Oxum> parse_oxum(std::string_view value);
std::string oxum_text(Oxum oxum);

/// "42600 MB", "42.6 GB", ".043 TB": for people (§2.2.2, Bag-Size). One decimal, decimal units.
std::string bag_size_text(std::uint64_t bytes);

/// Reads a metadata file whose bytes arrive in pieces; what breaks the rules is reported with the
/// file's name.
class BagInfoParser {
  public:
    using Report = std::function<void(Finding)>;
    /// `most`: bytes of labels and values that are kept in all; the rest is reported and left out.
    BagInfoParser(BagInfo& into, std::string file, const Encoding& encoding, const Rules& rules,
                  Report report, std::size_t most = 16u << 20);
    BagInfoParser(const BagInfoParser&) = delete;
    void feed(std::span<const std::byte> bytes) { lines_.feed(bytes); }
    void gap(std::uint64_t length) { lines_.gap(length); }
    void finish();

  private:
    void line(const Line& line);
    void element(const Line& line, std::size_t colon);
    void continuation(const Line& line);
    bool fits(const Line& line);
    void check_elements();
    void check_oxum();
    void check_repeats();
    void problem(FindingKind kind, Weight weight, const Line& line, std::string_view detail);
    void problem(FindingKind kind, Weight weight, std::string detail);

    BagInfo& into_;
    std::string file_;
    Encoding encoding_;
    const Rules& rules_;
    Report report_;
    std::size_t room_;
    std::uint64_t left_out_ = 0;
    std::uint64_t wide_ = 0;
    bool last_ended_ = true;
    bool open_ = false;  ///< a continuation line has an element to continue
    LineReader lines_;
};

/// The text of bag-info.txt: "Label: value", folded at 79 characters where a single blank allows it
/// (§2.2.2-5, -6), so that `unfolded` values read back the same. Error `malformed` for a label that
/// §2.2.2-4 forbids.
std::string bag_info_text(std::span<const Element> elements);

}  // namespace glassine::bagit
