#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <string_view>

/// Character encodings of tag files (8493 §2.1.1-3), through ICU's converters.
namespace glassine::bagit {

/// What is known of a name in Tag-File-Character-Encoding.
struct Encoding {
    std::string name;   ///< as declared
    bool known = true;  ///< ICU can read it
    bool registered =
        true;  ///< the name stands in IANA's Character Sets registry, as far as ICU knows it
    bool utf8 = true;         ///< is UTF-8: bytes need no conversion
    bool needs_mark = false;  ///< a byte order mark is needed for decoding: UTF-16, UTF-32
};
Encoding encoding_named(std::string_view name);

/// What stands in decoded text for an ill-formed place: a byte that UTF-8 never has, so that it
/// cannot be taken for a U+FFFD that was there before.
inline constexpr char ill_formed_mark = '\xFF';
/// The text with U+FFFD for each mark.
std::string without_marks(std::string_view decoded);

/// Turns the bytes of a tag file, handed over in pieces, into UTF-8, with `ill_formed_mark` where
/// they are ill-formed.
class Decoder {
  public:
    explicit Decoder(const Encoding& encoding);
    Decoder(Decoder&&) noexcept;
    Decoder& operator=(Decoder&&) noexcept;
    ~Decoder();
    /// Appends to `out` what can be decoded so far.
    void decode(std::span<const std::byte> bytes, std::string& out);
    /// The end of the input: half a character left over is ill-formed.
    void finish(std::string& out);

  private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace glassine::bagit
