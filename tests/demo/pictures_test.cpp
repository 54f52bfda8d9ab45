// The demo's pictures as libraries read them that had no part in writing them: what Exiv2 encodes
// is read through libjpeg's markers, what libtiff writes by LibRaw and Exiv2.

#include "pictures.h"

#include <cstdio>
#include <cstring>
#include <memory>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <exiv2/exiv2.hpp>
#include <jpeglib.h>
#include <libheif/heif.h>
#include <libraw/libraw.h>
#include <openssl/evp.h>
#include <png.h>
#include <tiffio.h>
#include <unistd.h>

namespace {

demo::Shot example_shot() {
    demo::Shot shot;
    shot.artist = "Ines Halloway";
    shot.copyright = "© Kittiwake Row Photographs";
    shot.original_name = "KRA_0001.DNG";
    shot.place = demo::Place{46.5, -24.75};
    return shot;
}

std::unique_ptr<Exiv2::Image> open_with_exiv2(const std::string& bytes) {
    auto image = Exiv2::ImageFactory::open(reinterpret_cast<const Exiv2::byte*>(bytes.data()),
                                           static_cast<long>(bytes.size()));
    image->readMetadata();
    return std::unique_ptr<Exiv2::Image>(image.release());
}

std::string exif(Exiv2::Image& image, const char* key) {
    auto at = image.exifData().findKey(Exiv2::ExifKey(key));
    return at == image.exifData().end() ? std::string() : at->toString();
}

std::string md5_hex(const void* data, std::size_t size) {
    unsigned char digest[16];
    EVP_Digest(data, size, digest, nullptr, EVP_md5(), nullptr);
    std::string text;
    for (unsigned char byte : digest) {
        if (!text.empty()) text += ' ';
        text += std::to_string(byte);
    }
    return text;
}

struct Decoded {
    unsigned width = 0;
    unsigned height = 0;
    bool progressive = false;
    long warnings = -1;
    std::vector<unsigned char> pixels;
};

/// Decodes to the last line; libjpeg counts a warning for everything that is not as it should be.
Decoded decoded(const std::string& bytes) {
    jpeg_decompress_struct info{};
    jpeg_error_mgr errors{};
    info.err = jpeg_std_error(&errors);
    jpeg_create_decompress(&info);
    jpeg_mem_src(&info, reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
    jpeg_read_header(&info, TRUE);
    jpeg_start_decompress(&info);
    Decoded out{info.output_width, info.output_height, info.progressive_mode != 0, 0, {}};
    out.pixels.resize(std::size_t{3} * out.width * out.height);
    while (info.output_scanline < info.output_height) {
        unsigned char* row = &out.pixels[std::size_t{3} * out.width * info.output_scanline];
        jpeg_read_scanlines(&info, &row, 1);
    }
    jpeg_finish_decompress(&info);
    out.warnings = errors.num_warnings;
    jpeg_destroy_decompress(&info);
    return out;
}

const unsigned char* pixel(const Decoded& picture, unsigned x, unsigned y) {
    return &picture.pixels[(std::size_t{picture.width} * y + x) * 3];
}

}  // namespace

TEST_CASE("a JPEG decodes whole and carries what its shot says") {
    demo::JpegOptions options;
    options.width = 330;
    options.height = 220;
    options.profile = demo::Profile::srgb;
    options.xmp = demo::xmp_packet({.rating = 4, .rights = "a < b & \"c\"", .raw_file_name = "K"});
    options.iptc_copyright = "notice";
    SECTION("baseline") {}
    SECTION("progressive") {
        options.progressive = true;
    }
    SECTION("restart markers, full colour") {
        options.restart_rows = 1;
        options.chroma_halved = false;
    }
    std::string bytes = demo::jpeg(example_shot(), options);

    Decoded picture = decoded(bytes);
    CHECK(picture.width == 330);
    CHECK(picture.height == 220);
    CHECK(picture.progressive == options.progressive);
    CHECK(picture.warnings == 0);

    auto image = open_with_exiv2(bytes);
    CHECK(exif(*image, "Exif.Image.Make") == "Skerrivane");
    CHECK(exif(*image, "Exif.Photo.BodySerialNumber") == "40001723");
    CHECK(exif(*image, "Exif.Photo.DateTimeOriginal") == "2025:06:14 11:20:35");
    CHECK(exif(*image, "Exif.Photo.SubSecTimeOriginal") == "420");
    CHECK(exif(*image, "Exif.Photo.OffsetTimeOriginal") == "+01:00");
    CHECK(exif(*image, "Exif.Photo.ColorSpace") == "1");
    CHECK(exif(*image, "Exif.GPSInfo.GPSLongitude") == "24/1 45/1 0/100");
    CHECK(exif(*image, "Exif.GPSInfo.GPSLongitudeRef") == "W");
    CHECK(image->xmpData()["Xmp.xmp.Rating"].toString() == "4");
    CHECK(image->xmpData()["Xmp.dc.rights"].toString() == "lang=\"x-default\" a < b & \"c\"");
    CHECK(image->iptcData()["Iptc.Application2.Copyright"].toString() == "notice");
    REQUIRE(image->iccProfileDefined());
    CHECK(std::string(reinterpret_cast<const char*>(image->iccProfile()->pData_),
                      static_cast<std::size_t>(image->iccProfile()->size_)) ==
          demo::icc_profile(demo::Profile::srgb));
    Exiv2::PreviewManager previews(*image);
    CHECK(previews.getPreviewProperties().size() == 1);
}

TEST_CASE("what a shot does not say is not in the file") {
    demo::Shot shot;
    shot.serial.clear();
    shot.utc_offset.reset();
    shot.has_subseconds = false;
    demo::JpegOptions options;
    options.width = 48;
    options.height = 32;
    auto image = open_with_exiv2(demo::jpeg(shot, options));
    for (const char* key : {"Exif.Photo.BodySerialNumber", "Exif.Photo.OffsetTimeOriginal",
                            "Exif.Photo.SubSecTimeOriginal", "Exif.Image.Copyright",
                            "Exif.Image.Artist", "Exif.GPSInfo.GPSLatitude"}) {
        INFO(key);
        CHECK(exif(*image, key).empty());
    }
    CHECK(image->xmpPacket().empty());
    CHECK_FALSE(image->iccProfileDefined());
}

TEST_CASE("a picture turned by its orientation is the upright picture") {
    // Exif 2.32, tag 0112: where stored row 0 and column 0 lie; so the stored corner at (0, 0) is
    // the upright corner of the same name.
    struct Corner {
        std::uint16_t orientation;
        bool right;
        bool bottom;
    };
    const Corner corners[] = {{1, false, false}, {2, true, false},  {3, true, true},
                              {4, false, true},  {5, false, false}, {6, true, false},
                              {7, true, true},   {8, false, true}};
    for (const Corner& corner : corners) {
        INFO("orientation " << corner.orientation);
        demo::Shot shot = example_shot();
        demo::JpegOptions options;
        options.thumbnail = false;
        options.chroma_halved = false;
        options.quality = 98;
        bool turned = corner.orientation >= 5;
        options.width = turned ? 96 : 128;
        options.height = turned ? 128 : 96;
        shot.orientation = corner.orientation;
        Decoded stored = decoded(demo::jpeg(shot, options));
        options.width = 128;
        options.height = 96;
        shot.orientation = 1;
        Decoded upright = decoded(demo::jpeg(shot, options));
        const unsigned char* a = pixel(stored, 3, 5);
        unsigned x = turned ? 5 : 3;
        unsigned y = turned ? 3 : 5;
        const unsigned char* b =
            pixel(upright, corner.right ? 127 - x : x, corner.bottom ? 95 - y : y);
        for (int channel = 0; channel < 3; ++channel)
            CHECK(std::abs(a[channel] - b[channel]) < 12);
    }
}

TEST_CASE("LibRaw unpacks and develops a DNG, and its digests are those of the sensor data") {
    demo::DngOptions options;
    options.width = 300;  // not a multiple of the digest's 256
    options.height = 280;
    options.preview_width = 480;
    options.preview_height = 448;
    std::string bytes = demo::dng(example_shot(), options);

    LibRaw raw;
    REQUIRE(raw.open_buffer(bytes.data(), bytes.size()) == LIBRAW_SUCCESS);
    REQUIRE(raw.unpack() == LIBRAW_SUCCESS);
    CHECK(raw.imgdata.sizes.raw_width == 300);
    CHECK(raw.imgdata.sizes.raw_height == 280);
    CHECK(std::string(raw.imgdata.idata.make) == "Skerrivane");
    CHECK(std::string(raw.imgdata.shootinginfo.BodySerial) == "40001723");
    CHECK(raw.imgdata.color.maximum == 4095);
    const std::uint16_t* sensor = raw.imgdata.rawdata.raw_image;
    REQUIRE(sensor != nullptr);

    auto image = open_with_exiv2(bytes);
    // DNG 1.4: RawImageDigest is the MD5 of the pixels in row order, 16 bits, little endian.
    CHECK(exif(*image, "Exif.Image.RawImageDigest") == md5_hex(sensor, 300 * 280 * 2));
    CHECK(exif(*image, "Exif.Image.NewRawImageDigest").size() > 30);
    CHECK(exif(*image, "Exif.Image.DNGVersion") == "1 4 0 0");
    CHECK(exif(*image, "Exif.Photo.DateTimeOriginal") == "2025:06:14 11:20:35");
    CHECK(exif(*image, "Exif.Photo.SubSecTimeOriginal") == "420");
    CHECK(exif(*image, "Exif.GPSInfo.GPSLatitude") == "46/1 30/1 0/1");
    Exiv2::PreviewManager previews(*image);
    REQUIRE(previews.getPreviewProperties().size() == 2);
    CHECK(previews.getPreviewProperties().back().width_ == 480);

    REQUIRE(raw.unpack_thumb() == LIBRAW_SUCCESS);
    REQUIRE(raw.imgdata.thumbnail.tformat == LIBRAW_THUMBNAIL_JPEG);
    Decoded preview = decoded({raw.imgdata.thumbnail.thumb, raw.imgdata.thumbnail.tlength});
    CHECK(preview.width == 480);
    CHECK(preview.warnings == 0);

    REQUIRE(raw.dcraw_process() == LIBRAW_SUCCESS);
    CHECK(raw.imgdata.process_warnings == 0);
}

TEST_CASE("a DNG without previews or digests has none") {
    demo::DngOptions options;
    options.width = 64;
    options.height = 48;
    options.preview_width = 0;
    options.image_digest = false;
    options.new_image_digest = false;
    options.camera_serial = false;
    auto image = open_with_exiv2(demo::dng(example_shot(), options));
    CHECK(exif(*image, "Exif.Image.RawImageDigest").empty());
    CHECK(exif(*image, "Exif.Image.NewRawImageDigest").empty());
    CHECK(exif(*image, "Exif.Image.CameraSerialNumber").empty());
    CHECK(exif(*image, "Exif.Photo.BodySerialNumber") == "40001723");
    CHECK(exif(*image, "Exif.SubImage2.ImageWidth").empty());
}

TEST_CASE("TIFFs of every packing show the same picture") {
    demo::TiffOptions options;
    options.width = 200;
    options.height = 150;
    std::vector<std::string> metadata_of;
    for (bool tiled : {false, true}) {
        for (auto packing :
             {demo::TiffPacking::none, demo::TiffPacking::lzw, demo::TiffPacking::deflate}) {
            options.tiled = tiled;
            options.packing = packing;
            std::string bytes = demo::tiff(example_shot(), options);
            FILE* file = std::tmpfile();
            REQUIRE(file != nullptr);
            std::fwrite(bytes.data(), 1, bytes.size(), file);
            std::fflush(file);
            std::rewind(file);
            TIFF* tiff = TIFFFdOpen(dup(fileno(file)), "demo", "r");
            REQUIRE(tiff != nullptr);
            std::vector<std::uint32_t> pixels(200 * 150);
            CHECK(TIFFReadRGBAImage(tiff, 200, 150, pixels.data(), 1) == 1);
            TIFFClose(tiff);
            std::fclose(file);
            metadata_of.push_back(md5_hex(pixels.data(), pixels.size() * 4));
            CHECK(metadata_of.back() == metadata_of.front());
        }
    }
}

TEST_CASE("a PNG decodes, with Exif and profile") {
    demo::PngOptions options;
    options.width = 120;
    options.height = 80;
    for (bool interlaced : {false, true}) {
        options.interlaced = interlaced;
        std::string bytes = demo::png(example_shot(), options);
        png_image header{};
        header.version = PNG_IMAGE_VERSION;
        REQUIRE(png_image_begin_read_from_memory(&header, bytes.data(), bytes.size()) != 0);
        CHECK(header.width == 120);
        header.format = PNG_FORMAT_RGB;
        std::vector<unsigned char> pixels(PNG_IMAGE_SIZE(header));
        CHECK(png_image_finish_read(&header, nullptr, pixels.data(), 0, nullptr) != 0);
        auto image = open_with_exiv2(bytes);
        CHECK(exif(*image, "Exif.Photo.BodySerialNumber") == "40001723");
        CHECK(image->iccProfileDefined());
    }
}

TEST_CASE("a HEIF decodes, with its Exif") {
    demo::HeifOptions options;
    options.width = 128;
    options.height = 96;
    std::string bytes = demo::heif(example_shot(), options);
    heif_context* context = heif_context_alloc();
    REQUIRE(heif_context_read_from_memory_without_copy(context, bytes.data(), bytes.size(), nullptr)
                .code == heif_error_Ok);
    heif_image_handle* handle = nullptr;
    REQUIRE(heif_context_get_primary_image_handle(context, &handle).code == heif_error_Ok);
    CHECK(heif_image_handle_get_width(handle) == 128);
    heif_image* image = nullptr;
    CHECK(
        heif_decode_image(handle, &image, heif_colorspace_RGB, heif_chroma_interleaved_RGB, nullptr)
            .code == heif_error_Ok);
    heif_image_release(image);
    heif_item_id id = 0;
    REQUIRE(heif_image_handle_get_list_of_metadata_block_IDs(handle, "Exif", &id, 1) == 1);
    std::string exif_item(heif_image_handle_get_metadata_size(handle, id), '\0');
    CHECK(heif_image_handle_get_metadata(handle, id, exif_item.data()).code == heif_error_Ok);
    heif_image_handle_release(handle);
    heif_context_free(context);

    // ISO/IEC 23008-12, annex A: four bytes with the offset of the TIFF header come first.
    Exiv2::ExifData exif;
    const auto* header = reinterpret_cast<const Exiv2::byte*>(exif_item.data());
    Exiv2::ExifParser::decode(exif, header + 4, static_cast<std::uint32_t>(exif_item.size() - 4));
    CHECK(exif["Exif.Photo.BodySerialNumber"].toString() == "40001723");
}

TEST_CASE("the same shot gives the same bytes, another grain gives others") {
    demo::Shot shot = example_shot();
    demo::JpegOptions jpeg;
    jpeg.width = 64;
    jpeg.height = 48;
    jpeg.profile = demo::Profile::srgb;
    demo::DngOptions dng;
    dng.width = 64;
    dng.height = 48;
    dng.preview_width = 64;
    dng.preview_height = 48;
    std::string first = demo::jpeg(shot, jpeg);
    std::string first_raw = demo::dng(shot, dng);
    CHECK(demo::jpeg(shot, jpeg) == first);
    CHECK(demo::dng(shot, dng) == first_raw);
    shot.grain = 2;
    CHECK(demo::jpeg(shot, jpeg) != first);
    CHECK(demo::dng(shot, dng) != first_raw);
}
