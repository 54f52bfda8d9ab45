#include "support/small_job.h"

#include "pictures.h"
#include "support/temp_folder.h"

#include <chrono>
#include <cstdio>

namespace glassine::test {
namespace fs = std::filesystem;

namespace {

constexpr const char* rights = "(c) 2025 Harrowgate Lane Pictures";

demo::Shot shot_of(std::size_t number) {
    demo::Shot shot;
    shot.captured = demo::local_time(2025, 6, 14, 11, 20) + std::chrono::seconds(7 * number);
    shot.copyright = rights;
    shot.scene = number;
    shot.grain = number;
    return shot;
}

std::string frame_name(std::size_t number) {
    char name[32];
    std::snprintf(name, sizeof name, "GLS_%04zu", number);
    return name;
}

void put(const fs::path& path, const std::string& content) {
    fs::create_directories(path.parent_path());
    write_file(path, content);
}

std::string raw_of(std::size_t number) {
    demo::DngOptions options;
    options.width = 64;
    options.height = 48;
    options.preview_width = 96;
    options.preview_height = 64;
    return demo::dng(shot_of(number), options);
}

std::string picture_of(std::size_t number, int width, int height) {
    demo::JpegOptions options;
    options.width = width;
    options.height = height;
    options.profile = demo::Profile::srgb;
    options.thumbnail = false;
    return demo::jpeg(shot_of(number), options);
}

void write_kept(const fs::path& folder, std::size_t number) {
    const std::string name = frame_name(number);
    put(folder / "originals" / (name + ".DNG"), raw_of(number));
    demo::XmpFields fields;
    fields.rating = 3;
    fields.raw_file_name = name + ".DNG";
    put(folder / "originals" / (name + ".xmp"), demo::xmp_packet(fields));
    put(folder / "print" / (name + ".jpg"), picture_of(number, 192, 128));
    put(folder / "web" / (name + ".jpg"), picture_of(number, 96, 64));
}

void write_rejected(const fs::path& folder, std::size_t number) {
    const std::string name = frame_name(number);
    put(folder / "rejects" / (name + ".DNG"), raw_of(number));
    put(folder / "rejects" / (name + ".JPG"), picture_of(number, 96, 64));
}

}  // namespace

void write_small_job(const fs::path& folder, const JobSize& size) {
    for (std::size_t i = 1; i <= size.kept; ++i)
        write_kept(folder, i);
    for (std::size_t i = size.kept + 1; i <= size.kept + size.rejected; ++i)
        write_rejected(folder, i);
    if (size.film_bytes > 0)
        put(folder / "originals" / "GLS_FILM.mov",
            noise(size.film_bytes, static_cast<unsigned>(size.film_bytes)));
}

}  // namespace glassine::test
