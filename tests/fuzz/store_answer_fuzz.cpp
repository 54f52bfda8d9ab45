#include "store/encoding.h"
#include "store/trouble.h"
#include "store/xml.h"

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>

using namespace glassine;
using namespace glassine::store;

namespace {

void require(bool good) {
    if (!good) std::abort();
}

/// What is read goes back into XML and is read the same.
std::string written(const XmlElement& element) {
    std::string out = "<a>" + xml_escaped(element.text);
    for (const XmlElement& child : element.children)
        out += written(child);
    return out + "</a>";
}

void require_same(const XmlElement& a, const XmlElement& b) {
    require(a.text == b.text && a.children.size() == b.children.size());
    for (std::size_t i = 0; i < a.children.size(); ++i)
        require_same(a.children[i], b.children[i]);
}

}  // namespace

/// The body of an answer, whatever stands at the other end of the line; the first byte chooses the
/// status.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size == 0) return 0;
    constexpr long statuses[]{200, 206, 301, 400, 403, 404, 408, 412, 429, 500, 503, 507};
    HttpAnswer answer;
    answer.status = statuses[data[0] % std::size(statuses)];
    answer.body.assign(reinterpret_cast<const char*>(data) + 1, size - 1);

    if (const auto xml = parse_xml(answer.body)) {
        // Line ends are the one thing that XML does not keep.
        const std::string text = written(*xml);
        if (text.find('\r') == std::string::npos) {
            const auto again = parse_xml(text);
            require(again.has_value());
            require_same(*xml, *again);
        }
    }
    const std::string encoded = percent_encode(answer.body, false);
    require(percent_decode(encoded) == answer.body);
    require(percent_decode(answer.body).size() <= answer.body.size());

    if (is_good(answer)) return 0;
    Settings settings;
    settings.endpoint = "https://store.example";
    const Error error = error_for(answer, "send the object", "s3://attic-two/x", settings);
    require(!error.why().empty() && !error.next().empty());
    require(error.why().find(settings.endpoint) != std::string::npos);
    for (const char c : error.why())
        require(static_cast<unsigned char>(c) >= 0x20 && c != 0x7f);
    return 0;
}
