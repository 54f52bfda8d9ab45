#include "metadata.h"

#include <cmath>
#include <cstdlib>

#include <exiv2/exiv2.hpp>
#include <fmt/format.h>

namespace demo {

namespace {

using Clock = std::chrono::hh_mm_ss<std::chrono::milliseconds>;

struct Split {
    std::chrono::year_month_day date;
    Clock clock;
};

Split split(LocalTime time) {
    auto day = std::chrono::floor<std::chrono::days>(time);
    return {std::chrono::year_month_day{day}, Clock{time - day}};
}

void add_camera(const Shot& shot, Exiv2::ExifData& exif) {
    auto text = [&](const char* key, const std::string& value) {
        if (!value.empty()) exif[key] = value;
    };
    text("Exif.Image.Make", shot.make);
    text("Exif.Image.Model", shot.model);
    text("Exif.Photo.BodySerialNumber", shot.serial);
    text("Exif.Image.Artist", shot.artist);
    text("Exif.Image.Copyright", shot.copyright);
    exif["Exif.Image.Orientation"] = shot.orientation;
    exif["Exif.Photo.ExifVersion"] = "48 50 51 50";
}

void add_time(const Shot& shot, Exiv2::ExifData& exif) {
    if (!shot.has_time) return;
    std::string time = exif_date_time(shot.captured);
    exif["Exif.Image.DateTime"] = time;
    exif["Exif.Photo.DateTimeOriginal"] = time;
    exif["Exif.Photo.DateTimeDigitized"] = time;
    if (shot.has_subseconds) {
        std::string fraction = exif_subseconds(shot.captured);
        exif["Exif.Photo.SubSecTimeOriginal"] = fraction;
        exif["Exif.Photo.SubSecTimeDigitized"] = fraction;
    }
    if (shot.utc_offset) {
        std::string offset = exif_offset(*shot.utc_offset);
        exif["Exif.Photo.OffsetTime"] = offset;
        exif["Exif.Photo.OffsetTimeOriginal"] = offset;
        exif["Exif.Photo.OffsetTimeDigitized"] = offset;
    }
}

std::string rationals(double angle) {
    Degrees d = to_degrees(angle);
    return fmt::format("{}/1 {}/1 {}/100", d.degrees, d.minutes, d.centiseconds);
}

void add_place(const Place& place, Exiv2::ExifData& exif) {
    exif["Exif.GPSInfo.GPSVersionID"] = "2 3 0 0";
    exif["Exif.GPSInfo.GPSLatitudeRef"] = place.latitude < 0 ? "S" : "N";
    exif["Exif.GPSInfo.GPSLatitude"] = rationals(place.latitude);
    exif["Exif.GPSInfo.GPSLongitudeRef"] = place.longitude < 0 ? "W" : "E";
    exif["Exif.GPSInfo.GPSLongitude"] = rationals(place.longitude);
}

void add_color_space(Profile profile, Exiv2::ExifData& exif) {
    bool wide = profile == Profile::wide;
    exif["Exif.Photo.ColorSpace"] = static_cast<std::uint16_t>(wide ? 0xFFFF : 1);
    exif["Exif.Iop.InteroperabilityIndex"] = wide ? "R03" : "R98";
}

std::string escaped(const std::string& text) {
    std::string out;
    for (char c : text) {
        switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            default:
                out += c;
        }
    }
    return out;
}

/// XMP's form of a coordinate: "56,12.345600N" (degrees, minutes with decimals, direction).
std::string xmp_coordinate(double angle, char positive, char negative) {
    double whole = std::floor(std::abs(angle));
    double minutes = (std::abs(angle) - whole) * 60;
    return fmt::format("{:.0f},{:.6f}{}", whole, minutes, angle < 0 ? negative : positive);
}

std::string simple_properties(const XmpFields& fields) {
    std::string out;
    auto attribute = [&](const char* name, const std::string& value) {
        if (!value.empty()) out += fmt::format("\n    {}=\"{}\"", name, escaped(value));
    };
    if (fields.rating) attribute("xmp:Rating", std::to_string(*fields.rating));
    attribute("xmp:Label", fields.label);
    attribute("xmpMM:PreservedFileName", fields.preserved_file_name);
    attribute("crs:RawFileName", fields.raw_file_name);
    if (fields.place) {
        attribute("exif:GPSLatitude", xmp_coordinate(fields.place->latitude, 'N', 'S'));
        attribute("exif:GPSLongitude", xmp_coordinate(fields.place->longitude, 'E', 'W'));
    }
    return out;
}

}  // namespace

LocalTime local_time(int year, unsigned month, unsigned day, int hour, int minute, int second,
                     int millisecond) {
    using namespace std::chrono;
    local_days date{std::chrono::year{year} / std::chrono::month{month} / std::chrono::day{day}};
    return date + hours{hour} + minutes{minute} + seconds{second} + milliseconds{millisecond};
}

std::string exif_date_time(LocalTime time) {
    auto [date, clock] = split(time);
    return fmt::format("{:04}:{:02}:{:02} {:02}:{:02}:{:02}", static_cast<int>(date.year()),
                       static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()),
                       clock.hours().count(), clock.minutes().count(), clock.seconds().count());
}

std::string exif_subseconds(LocalTime time) {
    return fmt::format("{:03}", split(time).clock.subseconds().count());
}

std::string exif_offset(std::chrono::minutes utc_offset) {
    auto minutes = std::abs(utc_offset.count());
    return fmt::format("{}{:02}:{:02}", utc_offset.count() < 0 ? '-' : '+', minutes / 60,
                       minutes % 60);
}

Degrees to_degrees(double angle) {
    auto hundredths = static_cast<unsigned>(std::lround(std::abs(angle) * 360000));
    return {hundredths / 360000, hundredths / 6000 % 60, hundredths % 6000};
}

std::string exif_block(const Shot& shot, const ExifExtras& extras) {
    Exiv2::ExifData exif;
    add_camera(shot, exif);
    add_time(shot, exif);
    if (shot.place) add_place(*shot.place, exif);
    add_color_space(extras.profile, exif);
    exif["Exif.Photo.PixelXDimension"] = static_cast<std::uint32_t>(extras.width);
    exif["Exif.Photo.PixelYDimension"] = static_cast<std::uint32_t>(extras.height);
    if (!extras.thumbnail.empty()) {
        Exiv2::ExifThumb thumb(exif);
        thumb.setJpegThumbnail(reinterpret_cast<const Exiv2::byte*>(extras.thumbnail.data()),
                               static_cast<long>(extras.thumbnail.size()));
    }
    Exiv2::Blob blob;
    Exiv2::ExifParser::encode(blob, Exiv2::littleEndian, exif);
    return {blob.begin(), blob.end()};
}

std::string iptc_segment(const std::string& copyright_notice) {
    Exiv2::IptcData iptc;
    iptc["Iptc.Envelope.CharacterSet"] = std::string("\x1b%G");
    iptc["Iptc.Application2.Copyright"] = copyright_notice;
    Exiv2::DataBuf resource = Exiv2::Photoshop::setIptcIrb(nullptr, 0, iptc);
    std::string segment("Photoshop 3.0\0", 14);
    return segment.append(reinterpret_cast<const char*>(resource.pData_),
                          static_cast<std::size_t>(resource.size_));
}

std::string xmp_packet(const XmpFields& fields) {
    std::string nested;
    if (!fields.creator.empty()) {
        nested +=
            fmt::format("   <dc:creator><rdf:Seq><rdf:li>{}</rdf:li></rdf:Seq></dc:creator>\n",
                        escaped(fields.creator));
    }
    auto in_any_language = [&](const char* name, const std::string& text) {
        if (text.empty()) return;
        nested += fmt::format(
            "   <{0}><rdf:Alt><rdf:li xml:lang=\"x-default\">{1}</rdf:li></rdf:Alt></{0}>\n", name,
            escaped(text));
    };
    in_any_language("dc:rights", fields.rights);
    in_any_language("dc:title", fields.title);
    return fmt::format(
        "<?xpacket begin=\"\xEF\xBB\xBF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
        "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n"
        " <rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
        "  <rdf:Description rdf:about=\"\"\n"
        "    xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\"\n"
        "    xmlns:dc=\"http://purl.org/dc/elements/1.1/\"\n"
        "    xmlns:xmpMM=\"http://ns.adobe.com/xap/1.0/mm/\"\n"
        "    xmlns:crs=\"http://ns.adobe.com/camera-raw-settings/1.0/\"\n"
        "    xmlns:exif=\"http://ns.adobe.com/exif/1.0/\"{}>\n"
        "{}"
        "  </rdf:Description>\n"
        " </rdf:RDF>\n"
        "</x:xmpmeta>\n"
        "<?xpacket end=\"w\"?>\n",
        simple_properties(fields), nested);
}

}  // namespace demo
