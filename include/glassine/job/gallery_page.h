#pragma once

#include "glassine/job/contact_sheet.h"

#include <span>
#include <string>
#include <string_view>
#include <vector>

/// index.html beside pictures that are handed out: a gallery in any browser, without a script and
/// without anything fetched from elsewhere. All text from files is escaped.
namespace glassine::job {

inline constexpr std::string_view gallery_file = "index.html";

/// A picture as the visitor sees it: print and web file of one name are one.
struct GalleryPicture {
    std::string name;       ///< under the picture: "KRB_0448"
    std::string thumbnail;  ///< relative to the page; empty: none could be made
    struct File {
        std::string what;  ///< "print", "web", …
        std::string path;  ///< relative to the page
    };
    std::vector<File> files;  ///< the first one opens with a click on the picture
};

std::string gallery_page(const SheetHead& head, std::span<const GalleryPicture> pictures);

/// A path as a relative link: everything but unreserved characters (RFC 3986 §2.3) and slashes
/// escaped.
std::string relative_link(std::string_view path);

}  // namespace glassine::job
