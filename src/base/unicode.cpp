#include "glassine/base/text.h"

#include <memory>
#include <mutex>

#include <unicode/normalizer2.h>
#include <unicode/translit.h>
#include <unicode/unistr.h>

/// The part of text.h that needs ICU.
namespace glassine::text {
namespace {

icu::UnicodeString from_utf8(std::string_view utf8) {
    return icu::UnicodeString::fromUTF8(
        icu::StringPiece(utf8.data(), static_cast<int32_t>(utf8.size())));
}

std::string to_std(const icu::UnicodeString& s) {
    std::string out;
    s.toUTF8String(out);
    return out;
}

icu::UnicodeString normalised(const icu::UnicodeString& s) {
    UErrorCode status = U_ZERO_ERROR;
    const icu::Normalizer2* form = icu::Normalizer2::getNFCInstance(status);
    if (U_FAILURE(status)) return s;
    icu::UnicodeString out = form->normalize(s, status);
    return U_FAILURE(status) ? s : out;
}

/// Latin letters without accents, lower case. A transliterator is not made for several threads: one
/// lock.
icu::UnicodeString to_plain_latin(icu::UnicodeString s) {
    static std::mutex mutex;
    static const std::unique_ptr<icu::Transliterator> transliterator = [] {
        UErrorCode status = U_ZERO_ERROR;
        return std::unique_ptr<icu::Transliterator>(icu::Transliterator::createInstance(
            "Any-Latin; Latin-ASCII; NFD; [:Nonspacing Mark:] Remove; NFC; Lower", UTRANS_FORWARD,
            status));
    }();
    const std::lock_guard lock(mutex);
    if (transliterator) transliterator->transliterate(s);
    return s;
}

/// Runs of anything but ASCII letters and digits become one `joint`, none at the ends. Apostrophes
/// vanish, so that "O'Hara" stays one word.
std::string joined_words(std::string_view plain, char joint) {
    std::string out;
    for (const char c : plain) {
        if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9'))
            out += c;
        else if (c != '\'' && !out.empty() && out.back() != joint)
            out += joint;
    }
    if (!out.empty() && out.back() == joint) out.pop_back();
    return out;
}

}  // namespace

std::string nfc(std::string_view utf8) {
    if (is_ascii(utf8) || !is_utf8(utf8)) return std::string(utf8);
    return to_std(normalised(from_utf8(utf8)));
}

std::string fold_case(std::string_view utf8) {
    if (is_ascii(utf8)) return ascii_lower(utf8);
    if (!is_utf8(utf8)) return std::string(utf8);
    return to_std(normalised(normalised(from_utf8(utf8)).foldCase()));
}

std::string portable_ascii(std::string_view utf8) {
    return joined_words(to_std(to_plain_latin(from_utf8(to_utf8(utf8)))), '-');
}

std::string fold_for_search(std::string_view utf8) {
    return joined_words(
        is_ascii(utf8) ? ascii_lower(utf8) : to_std(to_plain_latin(from_utf8(to_utf8(utf8)))), ' ');
}

}  // namespace glassine::text
