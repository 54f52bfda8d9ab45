#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Text that comes from outside (file names, metadata) is hostile until it has gone through one of
/// these.
namespace glassine::text {

bool is_utf8(std::string_view bytes);
/// Every ill-formed sequence becomes U+FFFD; well-formed text comes back as it is.
std::string to_utf8(std::string_view bytes);

/// Safe on a terminal: C0/C1 controls, DEL, bidirectional controls and ill-formed bytes become
/// visible escapes (`\n`, `\x1b`, `\u202e`), so that a name cannot drive the terminal or hide what
/// it is.
std::string for_terminal(std::string_view bytes);
/// HTML and SVG text or quoted attribute value: & < > " ' escaped, controls replaced by U+FFFD.
std::string for_html(std::string_view bytes);
/// One RFC 4180 field, quoted where needed. A field that a spreadsheet would run as a formula
/// (first character = + - @ TAB CR LF) gets an apostrophe in front; controls other than line breaks
/// and TAB become `?`.
std::string for_csv(std::string_view bytes);
/// A path or name as one word of a shell's command line (POSIX.1-2017, Shell Command Language,
/// 2.2): as it is, in single quotes where it needs them, with control characters as $'\x0a' (of
/// bash, zsh and ksh). A leading hyphen gets `./`, or it would be read as an option.
std::string for_shell(std::string_view bytes);

/// Unicode normalisation form C of UTF-8 text (ICU); ill-formed text comes back unchanged.
std::string nfc(std::string_view utf8);
/// For comparing names blind to case and normalisation: NFC, full case folding (ICU).
std::string fold_case(std::string_view utf8);
/// For finding names half remembered: also without accents, every run of other characters a blank.
std::string fold_for_search(std::string_view utf8);
/// Portable ASCII for file names: letters transliterated (ICU Any-Latin; Latin-ASCII), lower case,
/// each run of anything else one hyphen, none at the ends. May be empty.
std::string portable_ascii(std::string_view utf8);

bool is_ascii(std::string_view bytes);
std::string ascii_lower(std::string_view bytes);
bool equal_ignoring_ascii_case(std::string_view a, std::string_view b);
std::string_view trim(std::string_view bytes);  ///< spaces and tabs off both ends

/// "38.2 GB": decimal units (1 GB = 10^9 bytes), one decimal from MB up.
std::string human_bytes(std::uint64_t bytes);
/// "700MB", "2 GB", "512KiB", "1500000000": bytes, at least 1 and at most 10^18; nothing for
/// anything else.
std::optional<std::uint64_t> parse_bytes(std::string_view text);
/// "1,234,567".
std::string grouped(std::uint64_t number);
/// "412 originals", "1 original": the plural adds an s unless given.
std::string counted(std::uint64_t n, std::string_view singular, std::string_view plural = {});
/// "1 h 05 min", "3 min 20 s", "12 s".
std::string human_duration(double seconds);

/// The known word that is fewest edits away (insertions, deletions, replacements, neighbours
/// swapped), for "did you mean"; empty when `known` is.
std::string nearest(std::string_view word, std::span<const std::string> known);

/// Lower-case hex.
std::string hex(std::span<const std::byte> bytes);
/// Reads hex of either case into `bytes`; false if a digit is none or the length is odd.
bool from_hex(std::string_view hex, std::vector<std::byte>& bytes);

}  // namespace glassine::text
