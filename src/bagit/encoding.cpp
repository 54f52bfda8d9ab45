#include "glassine/bagit/encoding.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <array>

#include <unicode/ucnv.h>
#include <unicode/ucnv_cb.h>
#include <unicode/ucnv_err.h>

namespace glassine::bagit {
namespace {

struct Closer {
    void operator()(UConverter* converter) const { ucnv_close(converter); }
};
using Converter = std::unique_ptr<UConverter, Closer>;

/// ICU would also look for a converter's file by its name: only names of its own alias table are
/// let through.
bool in_alias_table(const std::string& name) {
    const bool plain = !name.empty() && name.size() <= 60 && std::ranges::all_of(name, [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
               std::string_view("-_.:()+").find(c) != std::string_view::npos;
    });
    if (!plain) return false;
    UErrorCode status = U_ZERO_ERROR;
    const auto aliases = ucnv_countAliases(name.c_str(), &status);
    return U_SUCCESS(status) && aliases > 0;
}

Converter open_converter(const std::string& name) {
    UErrorCode status = U_ZERO_ERROR;
    Converter converter(ucnv_open(name.c_str(), &status));
    return U_SUCCESS(status) ? std::move(converter) : nullptr;
}

/// Registered names are compared blind to case, but not, as ICU does, to punctuation.
bool in_registry(const std::string& name) {
    UErrorCode status = U_ZERO_ERROR;
    UEnumeration* names = ucnv_openStandardNames(name.c_str(), "IANA", &status);
    bool there = false;
    while (U_SUCCESS(status) && !there) {
        const char* next = uenum_next(names, nullptr, &status);
        if (!next) break;
        there = text::equal_ignoring_ascii_case(next, name);
    }
    uenum_close(names);
    return there;
}

/// Half a character of UTF-16: what well-formed text never gives, and what does not wait for more.
constexpr UChar lone_half = 0xDC00;

/// On the way in an ill-formed sequence becomes half a character, on the way out that becomes the
/// mark: U+FFFD itself may as well stand in the text.
void U_CALLCONV note_ill_formed(const void*, UConverterToUnicodeArgs* arguments, const char*,
                                int32_t, UConverterCallbackReason reason, UErrorCode* status) {
    if (reason > UCNV_IRREGULAR) return;
    *status = U_ZERO_ERROR;
    ucnv_cbToUWriteUChars(arguments, &lone_half, 1, 0, status);
}
void U_CALLCONV write_mark(const void*, UConverterFromUnicodeArgs* arguments, const UChar*, int32_t,
                           UChar32, UConverterCallbackReason reason, UErrorCode* status) {
    if (reason > UCNV_IRREGULAR) return;
    *status = U_ZERO_ERROR;
    ucnv_cbFromUWriteBytes(arguments, &ill_formed_mark, 1, 0, status);
}

}  // namespace

Encoding encoding_named(std::string_view name) {
    Encoding encoding{std::string(name), true, true, false, false};
    if (text::equal_ignoring_ascii_case(name, "UTF-8")) {
        encoding.utf8 = true;
        return encoding;
    }
    const Converter converter =
        in_alias_table(encoding.name) ? open_converter(encoding.name) : nullptr;
    encoding.known = converter != nullptr;
    encoding.registered = encoding.known && in_registry(encoding.name);
    if (!encoding.known) {
        encoding.utf8 = true;  // the best guess for what cannot be told
        return encoding;
    }
    UErrorCode status = U_ZERO_ERROR;
    const UConverterType type = ucnv_getType(converter.get());
    const std::string canonical = ucnv_getName(converter.get(), &status);
    encoding.utf8 = type == UCNV_UTF8;
    encoding.needs_mark = canonical == "UTF-16" || canonical == "UTF-32";
    return encoding;
}

std::string without_marks(std::string_view decoded) {
    std::string shown;
    for (const char c : decoded) {
        if (c == ill_formed_mark)
            shown += "\xEF\xBF\xBD";
        else
            shown += c;
    }
    return shown;
}

struct Decoder::State {
    Converter from;
    Converter to;
    std::array<UChar, 4096> pivot{};
    UChar* pivot_source = pivot.data();
    UChar* pivot_target = pivot.data();
    bool begun = false;

    void convert(const char* begin, const char* end, bool flush, std::string& out);
};

Decoder::Decoder(const Encoding& encoding) : state_(std::make_unique<State>()) {
    state_->from = open_converter(encoding.known ? encoding.name : "UTF-8");
    state_->to = open_converter("UTF-8");
    UErrorCode status = U_ZERO_ERROR;
    ucnv_setToUCallBack(state_->from.get(), note_ill_formed, nullptr, nullptr, nullptr, &status);
    ucnv_setFromUCallBack(state_->to.get(), write_mark, nullptr, nullptr, nullptr, &status);
}

Decoder::Decoder(Decoder&&) noexcept = default;
Decoder& Decoder::operator=(Decoder&&) noexcept = default;
Decoder::~Decoder() = default;

void Decoder::State::convert(const char* begin, const char* end, bool flush, std::string& out) {
    std::array<char, 16384> buffer;
    UErrorCode status = U_ZERO_ERROR;
    do {
        status = U_ZERO_ERROR;
        char* target = buffer.data();
        ucnv_convertEx(to.get(), from.get(), &target, buffer.data() + buffer.size(), &begin, end,
                       pivot.data(), &pivot_source, &pivot_target, pivot.data() + pivot.size(),
                       static_cast<UBool>(!begun), static_cast<UBool>(flush), &status);
        begun = true;
        out.append(buffer.data(), target);
    } while (status == U_BUFFER_OVERFLOW_ERROR);
    if (status ==
        U_TRUNCATED_CHAR_FOUND) {  // the only fault that ICU does not hand to the callback
        out += ill_formed_mark;
    }
}

void Decoder::decode(std::span<const std::byte> bytes, std::string& out) {
    const char* begin = reinterpret_cast<const char*>(bytes.data());
    state_->convert(begin, begin + bytes.size(), false, out);
}

void Decoder::finish(std::string& out) {
    const char* nothing = "";
    state_->convert(nothing, nothing, true, out);
}

}  // namespace glassine::bagit
