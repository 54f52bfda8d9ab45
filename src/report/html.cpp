#include "report/html.h"

#include "glassine/base/version.h"
#include "glassine/digest/digest.h"
#include "glassine/job/page_style.h"
#include "report/report_style.h"

namespace glassine::report {
namespace {

/// RFC 4648 §4.
std::string base64(std::string_view bytes) {
    constexpr std::string_view digits =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string out;
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        std::uint32_t three = 0;
        const std::size_t count = std::min<std::size_t>(3, bytes.size() - i);
        for (std::size_t k = 0; k < 3; ++k)
            three = three << 8 | (k < count ? static_cast<unsigned char>(bytes[i + k]) : 0);
        for (std::size_t k = 0; k < 4; ++k)
            out += k <= count ? digits[three >> (18 - 6 * k) & 63] : '=';
    }
    return out;
}

std::string sha256_base64(std::string_view text) {
    const digest::Value value = digest::digest_of(digest::Algorithm::sha256, text);
    const auto bytes = value.bytes();
    return base64({reinterpret_cast<const char*>(bytes.data()), bytes.size()});
}

}  // namespace

std::string page(std::string_view title, std::string_view own_style, const Markup& body,
                 std::string_view script) {
    Html html;
    // Content Security Policy Level 3 §2.3.1: a script is allowed by its digest.
    html.put(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; "
        "style-src 'unsafe-inline'{}\">\n"
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
        "<meta name=\"generator\" content=\"Glassine {}\">\n"
        "<title>{}</title>\n<style>{}{}{}</style>\n</head>\n<body>\n{}{}</body>\n</html>\n",
        Markup{script.empty() ? "" : "; script-src 'sha256-" + sha256_base64(script) + "'"},
        version(), title, Markup{std::string(job::page_style)}, Markup{std::string(report_style)},
        Markup{std::string(own_style)}, body,
        Markup{script.empty() ? "" : fmt::format("<script>{}</script>\n", script)});
    return html.take();
}

std::string fitting(std::string_view text, std::size_t letters) {
    std::string words = text::to_utf8(text);
    std::size_t count = 0;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if ((static_cast<unsigned char>(words[i]) & 0xC0) == 0x80) continue;
        if (count++ == letters) return words.substr(0, i) + "…";
    }
    return words;
}

std::string capitalised(std::string words) {
    if (!words.empty() && words[0] >= 'a' && words[0] <= 'z')
        words[0] = static_cast<char>(words[0] - 'a' + 'A');
    return words;
}

std::string moment_words(Timestamp moment) {
    std::string words = rfc3339(moment).substr(0, 16);
    words[10] = ' ';
    return words + " UTC";
}

std::string jpeg_data(std::string_view jpeg) {
    return "data:image/jpeg;base64," + base64(jpeg);
}

}  // namespace glassine::report
