#pragma once

#include "glassine/base/text.h"
#include "glassine/base/time.h"

#include <iterator>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>

#include <fmt/format.h>

namespace glassine::report {

/// Text that is markup already; everything else is escaped on its way into a page.
struct Markup {
    std::string html;
};

/// What is put into markup for a value: text escaped, `Markup` and numbers as they are.
template <typename T>
auto safe(const T& value) {
    if constexpr (std::is_same_v<T, Markup>)
        return value.html;
    else if constexpr (std::is_convertible_v<const T&, std::string_view>)
        return text::for_html(value);
    else
        return value;
}
template <typename... Args>
using MarkupFormat = fmt::format_string<decltype(safe(std::declval<const Args&>()))...>;

/// Writes markup. Nobody can forget to escape: what is put in for a `{}` is text unless it is
/// `Markup`.
class Html {
  public:
    template <typename... Args>
    void put(MarkupFormat<Args...> format, const Args&... args) {
        fmt::format_to(std::back_inserter(html_), format, safe(args)...);
    }
    std::string take() { return std::move(html_); }

  private:
    std::string html_;
};

/// A whole page around `body`. The policy in it keeps any browser from fetching anything, and from
/// running anything but `script` (of our own; most pages have none), whatever a name may hold;
/// pictures stand in the page itself.
std::string page(std::string_view title, std::string_view own_style, const Markup& body,
                 std::string_view script = {});

/// At most so many letters, cut at a letter's border; what is cut off leaves an ellipsis.
std::string fitting(std::string_view text, std::size_t letters);

/// With a capital at the beginning, where that is a letter of ASCII.
std::string capitalised(std::string words);

/// "2025-09-06 14:03 UTC".
std::string moment_words(Timestamp moment);

/// A picture that stands in the page itself (RFC 2397).
std::string jpeg_data(std::string_view jpeg);

}  // namespace glassine::report
