#include "glassine/bagit/layout.h"

#include <fmt/format.h>

namespace glassine::bagit {

std::optional<ManifestName> manifest_name(std::string_view file_name) {
    constexpr std::string_view payload = "manifest-";
    constexpr std::string_view tag = "tagmanifest-";
    constexpr std::string_view end = ".txt";
    if (!file_name.ends_with(end)) return std::nullopt;
    file_name.remove_suffix(end.size());
    ManifestName name{};
    if (file_name.starts_with(payload)) {
        name.kind = ManifestKind::payload;
        file_name.remove_prefix(payload.size());
    } else if (file_name.starts_with(tag)) {
        name.kind = ManifestKind::tag;
        file_name.remove_prefix(tag.size());
    } else {
        return std::nullopt;
    }
    name.algorithm = digest::normalised(file_name);
    if (name.algorithm.empty()) return std::nullopt;
    name.computable = digest::algorithm(name.algorithm);
    name.canonical = name.algorithm == file_name;
    return name;
}

std::string manifest_file(ManifestKind kind, digest::Algorithm algorithm) {
    return fmt::format("{}manifest-{}.txt", kind == ManifestKind::tag ? "tag" : "",
                       digest::name(algorithm));
}

}  // namespace glassine::bagit
