#include "photo/exiv2_image.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <limits>

namespace glassine::photo {

namespace {

void lock_xmp(void* mutex, bool lock) {
    auto* m = static_cast<std::recursive_mutex*>(mutex);
    if (lock) {
        m->lock();
    } else {
        m->unlock();
    }
}

void initialise() {
    static std::recursive_mutex xmp;
    Exiv2::XmpParser::initialize(&lock_xmp, &xmp);
    Exiv2::LogMsg::setLevel(Exiv2::LogMsg::mute);
    Exiv2::LogMsg::setHandler(nullptr);
#ifdef EXV_ENABLE_BMFF
    Exiv2::enableBMFF(true);
#endif
}

/// Metadata texts may be of any size and end in anything.
std::string clean(std::string value) {
    constexpr std::size_t longest = 1000;
    value.resize(std::min({value.size(), value.find('\0'), longest}));
    const auto first = value.find_first_not_of(" \t\r\n");
    if (first == std::string::npos) return {};
    const auto last = value.find_last_not_of(" \t\r\n");
    return text::to_utf8(std::string_view(value).substr(first, last - first + 1));
}

/// Of a film nothing is wanted here, and Exiv2 walks through a box of a film for as long as the box
/// says it is, far beyond the file's end.
bool is_film(const Exiv2::Image& image) {
    return image.mimeType().starts_with("video/");
}

}  // namespace

std::unique_lock<std::mutex> lock_exiv2() {
    static std::mutex mutex;
    std::unique_lock lock(mutex);
    static std::once_flag once;
    std::call_once(once, &initialise);
    return lock;
}

std::unique_ptr<Exiv2::Image> open_metadata(Bytes file) {
    if (file.empty() || file.size() > std::numeric_limits<std::uint32_t>::max()) return nullptr;
    try {
        auto image = Exiv2::ImageFactory::open(reinterpret_cast<const Exiv2::byte*>(file.data()),
                                               static_cast<long>(file.size()));
        if (image.get() == nullptr || is_film(*image)) return nullptr;
        image->readMetadata();
        return std::unique_ptr<Exiv2::Image>(image.release());
    } catch (const std::exception&) {
        // Exiv2::AnyError is one. What Exiv2 cannot read is said by the verdict, not by its
        // exceptions.
        return nullptr;
    }
}

std::string value_of(const Exiv2::ExifData& exif, const char* key) {
    const auto found = exif.findKey(Exiv2::ExifKey(key));
    return found == exif.end() || found->size() > (1 << 20) ? std::string()
                                                            : clean(found->toString());
}

std::string value_of(const Exiv2::XmpData& xmp, const char* key) {
    const auto found = xmp.findKey(Exiv2::XmpKey(key));
    if (found == xmp.end() || found->count() == 0) return {};
    if (found->typeId() == Exiv2::langAlt) {
        const auto& value = dynamic_cast<const Exiv2::LangAltValue&>(found->value());
        const std::string standard = clean(value.toString("x-default"));
        return standard.empty() && !value.value_.empty() ? clean(value.value_.begin()->second)
                                                         : standard;
    }
    return clean(found->toString(0));
}

std::string value_of(const Exiv2::IptcData& iptc, const char* key) {
    const auto found = iptc.findKey(Exiv2::IptcKey(key));
    return found == iptc.end() ? std::string() : clean(found->toString());
}

}  // namespace glassine::photo
