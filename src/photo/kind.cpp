#include "glassine/base/text.h"
#include "glassine/photo/examine.h"
#include "photo/bytes.h"

#include <algorithm>
#include <array>

namespace glassine::photo {

namespace {

struct Extension {
    std::string_view word;
    Kind kind;
};

// Which extensions makers use: common practice, no source.
constexpr std::array extensions{
    Extension{"jpg", Kind::jpeg}, Extension{"jpeg", Kind::jpeg}, Extension{"jpe", Kind::jpeg},
    Extension{"thm", Kind::jpeg}, Extension{"tif", Kind::tiff},  Extension{"tiff", Kind::tiff},
    Extension{"png", Kind::png},  Extension{"heic", Kind::heif}, Extension{"heif", Kind::heif},
    Extension{"hif", Kind::heif}, Extension{"avif", Kind::heif}, Extension{"dng", Kind::dng},
    Extension{"xmp", Kind::xmp},  Extension{"3fr", Kind::raw},   Extension{"ari", Kind::raw},
    Extension{"arw", Kind::raw},  Extension{"bay", Kind::raw},   Extension{"cr2", Kind::raw},
    Extension{"cr3", Kind::raw},  Extension{"crw", Kind::raw},   Extension{"dcr", Kind::raw},
    Extension{"dcs", Kind::raw},  Extension{"erf", Kind::raw},   Extension{"fff", Kind::raw},
    Extension{"gpr", Kind::raw},  Extension{"iiq", Kind::raw},   Extension{"k25", Kind::raw},
    Extension{"kdc", Kind::raw},  Extension{"mef", Kind::raw},   Extension{"mos", Kind::raw},
    Extension{"mrw", Kind::raw},  Extension{"nef", Kind::raw},   Extension{"nrw", Kind::raw},
    Extension{"orf", Kind::raw},  Extension{"ori", Kind::raw},   Extension{"pef", Kind::raw},
    Extension{"raf", Kind::raw},  Extension{"raw", Kind::raw},   Extension{"rw2", Kind::raw},
    Extension{"rwl", Kind::raw},  Extension{"sr2", Kind::raw},   Extension{"srf", Kind::raw},
    Extension{"srw", Kind::raw},  Extension{"x3f", Kind::raw},
};

struct Signature {
    std::size_t offset;
    std::string_view bytes;
    Kind kind;
};

using namespace std::string_view_literals;

// Basis: ITU-T T.81 (JPEG), TIFF 6.0, ISO/IEC 15948 (PNG), ISO/IEC 14496-12 brands; makers' magic
// from memory.
constexpr std::array signatures{
    Signature{0, "\xff\xd8\xff"sv, Kind::jpeg},
    Signature{0, "\x89PNG\r\n\x1a\n"sv, Kind::png},
    Signature{8, "CR\x02"sv, Kind::raw},
    Signature{0, "FUJIFILMCCD-RAW"sv, Kind::raw},
    Signature{0, "IIRO"sv, Kind::raw},
    Signature{0, "IIRS"sv, Kind::raw},
    Signature{0, "MMOR"sv, Kind::raw},
    Signature{0, "IIU\0"sv, Kind::raw},
    Signature{6, "HEAPCCDR"sv, Kind::raw},
    Signature{0, "\0MRM"sv, Kind::raw},
    Signature{0, "FOVb"sv, Kind::raw},
    Signature{0, "II*\0"sv, Kind::tiff},
    Signature{0, "MM\0*"sv, Kind::tiff},
    Signature{0, "II+\0\x08\0\0\0"sv, Kind::tiff},
    Signature{0, "MM\0+\0\x08\0\0"sv, Kind::tiff},
    Signature{4, "ftypcrx "sv, Kind::raw},
};

constexpr std::array heif_brands{"heic"sv, "heix"sv, "heim"sv, "heis"sv, "hevc"sv, "hevx"sv,
                                 "mif1"sv, "mif2"sv, "msf1"sv, "avif"sv, "avis"sv};

bool looks_like_xmp(std::string_view head) {
    if (head.starts_with("\xef\xbb\xbf")) head.remove_prefix(3);
    const std::size_t start = head.find_first_not_of(" \t\r\n");
    if (start == std::string_view::npos) return false;
    head.remove_prefix(start);
    return head.starts_with("<?xpacket") || head.starts_with("<x:xmpmeta") ||
           head.starts_with("<rdf:RDF");
}

std::optional<Kind> kind_of_content(std::string_view head) {
    for (const Signature& signature : signatures)
        if (head.size() > signature.offset &&
            head.substr(signature.offset).starts_with(signature.bytes))
            return signature.kind;
    if (head.size() >= 12 && head.substr(4, 4) == "ftyp" &&
        std::ranges::find(heif_brands, head.substr(8, 4)) != heif_brands.end())
        return Kind::heif;
    if (looks_like_xmp(head)) return Kind::xmp;
    return std::nullopt;
}

}  // namespace

Kind kind_of_name(std::string_view name) {
    const std::size_t dot = name.rfind('.');
    if (dot == std::string_view::npos || name.find('/', dot) != std::string_view::npos)
        return Kind::other;
    const std::string lower = text::ascii_lower(name.substr(dot + 1));
    const auto* found = std::ranges::find(extensions, lower, &Extension::word);
    return found == extensions.end() ? Kind::other : found->kind;
}

Kind kind_of(std::span<const std::byte> head, std::string_view name) {
    const Kind claimed = kind_of_name(name);
    const std::optional<Kind> content = kind_of_content(as_text(head));
    if (!content) return claimed;
    // A TIFF header may begin a scan, a DNG or a maker's raw: the name says which, until the
    // directories do.
    if (*content == Kind::tiff && is_raw(claimed)) return claimed;
    return *content;
}

}  // namespace glassine::photo
