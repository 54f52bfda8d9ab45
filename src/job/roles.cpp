#include "glassine/base/text.h"
#include "glassine/job/layout.h"
#include "glassine/photo/examine.h"

#include <string_view>

namespace glassine::job {

std::string_view file_name_of(std::string_view path) {
    return path.substr(path.rfind('/') + 1);
}

std::string_view folder_of(std::string_view path) {
    const std::size_t slash = path.rfind('/');
    return slash == std::string_view::npos ? std::string_view{} : path.substr(0, slash);
}

std::string_view stem_of(std::string_view path) {
    const std::size_t name = path.size() - file_name_of(path).size();
    const std::size_t dot = path.rfind('.');
    // A dot in front hides a file; it begins no extension.
    if (dot == std::string_view::npos || dot <= name) return path;
    return path.substr(0, dot);
}

bool is_picture(Role role) {
    return role == Role::raw || role == Role::picture || role == Role::proxy;
}

Role role_of(Section section, std::string_view file_name) {
    // DCF 2.0: THM is the thumbnail of something that is not a JPEG, mostly of a film.
    if (text::ascii_lower(file_name).ends_with(".thm")) return Role::other;
    switch (photo::kind_of_name(file_name)) {
        case photo::Kind::xmp:
            return Role::sidecar;
        case photo::Kind::dng:
        case photo::Kind::raw:
            return Role::raw;
        case photo::Kind::jpeg:
            return section == Section::rejects ? Role::proxy : Role::picture;
        case photo::Kind::tiff:
        case photo::Kind::png:
        case photo::Kind::heif:
            return Role::picture;
        case photo::Kind::other:
            break;
    }
    return Role::other;
}

}  // namespace glassine::job
