#include "store/encoding.h"

#include <algorithm>

#include <openssl/evp.h>

namespace glassine::store {
namespace {

constexpr std::string_view hex_digits = "0123456789ABCDEF";

bool is_unreserved(char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '.' || c == '_' || c == '~';
}

int hex_value(char c) {
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'A' && c <= 'F') return c - 'A' + 10;
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    return -1;
}

}  // namespace

std::string percent_encode(std::string_view text, bool keep_slash) {
    std::string out;
    for (const char c : text) {
        if (is_unreserved(c) || (keep_slash && c == '/')) {
            out += c;
            continue;
        }
        const auto byte = static_cast<unsigned char>(c);
        out += '%';
        out += hex_digits[byte >> 4];
        out += hex_digits[byte & 15];
    }
    return out;
}

std::string percent_decode(std::string_view text) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] == '%' && i + 2 < text.size() && hex_value(text[i + 1]) >= 0 &&
            hex_value(text[i + 2]) >= 0) {
            out += static_cast<char>(hex_value(text[i + 1]) * 16 + hex_value(text[i + 2]));
            i += 2;
        } else {
            out += text[i] == '+' ? ' ' : text[i];
        }
    }
    return out;
}

std::string query_of(std::vector<std::pair<std::string, std::string>> parameters) {
    std::ranges::sort(parameters);
    std::string query;
    for (const auto& [name, value] : parameters) {
        if (!query.empty()) query += '&';
        query.append(percent_encode(name, false)).append("=").append(percent_encode(value, false));
    }
    return query;
}

std::string base64(std::span<const std::byte> bytes) {
    std::string out(4 * ((bytes.size() + 2) / 3) + 1, '\0');
    const int length = EVP_EncodeBlock(reinterpret_cast<unsigned char*>(out.data()),
                                       reinterpret_cast<const unsigned char*>(bytes.data()),
                                       static_cast<int>(bytes.size()));
    out.resize(static_cast<std::size_t>(length));
    return out;
}

}  // namespace glassine::store
