#include "glassine/job/gallery_page.h"

#include "contact_sheet_style.h"
#include "glassine/base/text.h"
#include "sheet_head.h"

#include <iterator>

#include <fmt/format.h>

namespace glassine::job {
namespace {

using text::for_html;

class Page {
  public:
    std::string write(const SheetHead& head, std::span<const GalleryPicture> pictures) {
        begin(head, pictures.size());
        for (const GalleryPicture& picture : pictures)
            add(picture);
        put("</ul>\n</main>\n<footer>\n");
        if (!head.rights.empty()) put("<p>{}</p>\n", for_html(head.rights));
        put("</footer>\n</body>\n</html>\n");
        return std::move(html_);
    }

  private:
    template <typename... Args>
    void put(fmt::format_string<Args...> format, Args&&... args) {
        fmt::format_to(std::back_inserter(html_), format, std::forward<Args>(args)...);
    }

    void begin(const SheetHead& head, std::size_t count) {
        const std::string title = for_html(sheet_title(head));
        put("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n{}"
            "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
            "<title>{}</title>\n<style>{}</style>\n</head>\n<body>\n<header>\n<h1>{}</h1>\n",
            sheet_policy, title, contact_sheet_style, title);
        const std::string line = sheet_line(head);
        if (!line.empty()) put("<p>{}</p>\n", for_html(line));
        put("<p>{}</p>\n</header>\n<main>\n<ul class=\"frames\">\n",
            text::counted(count, "picture"));
    }

    void add(const GalleryPicture& picture) {
        const std::string name = for_html(picture.name);
        put("<li><figure><a href=\"{}\">", relative_link(picture.files.front().path));
        if (picture.thumbnail.empty())
            put("<span class=\"mount absent\">{}</span>", name);
        else
            put("<span class=\"mount\"><img src=\"{}\" alt=\"{}\" loading=\"lazy\"></span>",
                relative_link(picture.thumbnail), name);
        put("</a><figcaption><strong>{}</strong><span>", name);
        for (const GalleryPicture::File& file : picture.files)
            put("{}<a href=\"{}\" aria-label=\"{} {}\">{}</a>",
                &file == picture.files.data() ? "" : " · ", relative_link(file.path),
                for_html(file.what), name, for_html(file.what));
        put("</span></figcaption></figure></li>\n");
    }

    std::string html_;
};

}  // namespace

std::string relative_link(std::string_view path) {
    std::string link;
    for (const char c : path) {
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                           (c >= '0' && c <= '9') || c == '-' || c == '.' || c == '_' || c == '~' ||
                           c == '/';
        link += plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
    }
    return link;
}

std::string gallery_page(const SheetHead& head, std::span<const GalleryPicture> pictures) {
    return Page().write(head, pictures);
}

}  // namespace glassine::job
