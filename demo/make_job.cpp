// Makes the job folder of an invented studio: what lies on the disk on the day of delivery.

#include "command.h"
#include "job_plan.h"
#include "pictures.h"

#include <atomic>
#include <exception>
#include <filesystem>
#include <fstream>
#include <mutex>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include <fmt/format.h>
namespace fs = std::filesystem;

namespace demo {

namespace {

/// Writes files below the job folder and counts them.
class JobFolder {
  public:
    explicit JobFolder(fs::path root) : root_(std::move(root)) {}

    void write(const fs::path& name, const std::string& bytes, const Shot& shot) {
        write(name, bytes);
        auto when = shot.captured - shot.utc_offset.value_or(std::chrono::minutes{0});
        auto since_1970 = std::chrono::floor<std::chrono::seconds>(when.time_since_epoch());
        auto stamp = std::chrono::file_clock::from_sys(
            std::chrono::sys_time<std::chrono::seconds>{since_1970});
        fs::last_write_time(root_ / name, stamp);
    }

    void write(const fs::path& name, const std::string& bytes) {
        fs::path path = root_ / name;
        fs::create_directories(path.parent_path());
        std::ofstream out(path, std::ios::binary);
        out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
        out.close();
        if (!out) throw std::runtime_error(path.string() + " cannot be written");
        ++files_;
        bytes_ += bytes.size();
    }

    std::size_t files() const { return files_; }
    std::size_t bytes() const { return bytes_; }

  private:
    fs::path root_;
    std::atomic<std::size_t> files_{0};
    std::atomic<std::size_t> bytes_{0};
};

std::string export_xmp(const Frame& frame, const std::string& rights) {
    XmpFields fields;
    fields.creator = frame.shot.artist;
    fields.rights = rights;
    fields.title = frame.title;
    fields.raw_file_name = frame.raw_name();
    fields.preserved_file_name = frame.raw_name();
    return xmp_packet(fields);
}

/// A delivered picture is developed upright, with the rights notice and without the place.
std::string export_jpeg(const Frame& frame, const std::string& rights, int long_edge,
                        int short_edge, int quality) {
    Shot shot = frame.shot;
    bool turned = shot.orientation >= 5;
    shot.orientation = 1;
    shot.copyright = rights;
    shot.place.reset();
    JpegOptions options;
    options.width = turned ? short_edge : long_edge;
    options.height = turned ? long_edge : short_edge;
    options.quality = quality;
    options.profile = Profile::srgb;
    options.xmp = export_xmp(frame, rights);
    options.iptc_copyright = rights;
    return jpeg(shot, options);
}

std::string web_jpeg(const Frame& frame, const std::string& rights, const JobSizes& sizes) {
    Frame for_the_web = frame;
    for_the_web.shot.serial.clear();  // the web need not know which body it was
    return export_jpeg(for_the_web, rights, sizes.web_long, sizes.web_short, 82);
}

std::string raw_file(const Frame& frame, const JobSizes& sizes) {
    DngOptions options;
    options.width = sizes.raw_long;
    options.height = sizes.raw_short;
    options.preview_width = sizes.preview_long;
    options.preview_height = sizes.preview_short;
    return dng(frame.shot, options);
}

std::string sidecar(const Frame& frame) {
    XmpFields fields;
    fields.rating = frame.rating;
    fields.label = frame.printed ? "Print" : "Web";
    fields.creator = frame.shot.artist;
    fields.title = frame.title;
    return xmp_packet(fields);
}

std::string proxy(const Frame& frame, const JobSizes& sizes) {
    JpegOptions options;
    options.width = sizes.preview_long;
    options.height = sizes.preview_short;
    options.quality = 80;
    options.profile = Profile::srgb;
    return jpeg(frame.shot, options);
}

void write_frame(const Frame& frame, const JobPlan& plan, const JobSizes& sizes, JobFolder& job) {
    fs::path section = frame.kept ? "originals" : "rejects";
    fs::path folder = section / frame.folder;
    job.write(folder / frame.raw_name(), raw_file(frame, sizes), frame.shot);
    if (frame.has_proxy) job.write(folder / (frame.stem + ".JPG"), proxy(frame, sizes), frame.shot);
    if (!frame.kept) return;
    job.write(folder / (frame.stem + ".xmp"), sidecar(frame));
    job.write(fs::path("web") / frame.delivered_name(), web_jpeg(frame, plan.rights, sizes));
    if (frame.printed) {
        job.write(fs::path("print") / frame.delivered_name(),
                  export_jpeg(frame, plan.rights, sizes.print_long, sizes.print_short, 92));
    }
}

/// What two operating systems left behind while people looked at the folders.
void write_system_junk(JobFolder& job) {
    const std::string ds_store("\0\0\0\1Bud1", 8);
    const std::string thumbs("\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", 8);
    job.write("originals/.DS_Store", ds_store + std::string(6140, '\0'));
    job.write("print/Thumbs.db", thumbs + std::string(5112, '\0'));
}

/// One frame after the other, on every core.
void write_frames(const JobPlan& plan, const JobSizes& sizes, JobFolder& job) {
    std::atomic<std::size_t> next{0};
    std::mutex guard;
    std::exception_ptr trouble;
    auto work = [&] {
        try {
            for (std::size_t i = next++; i < plan.frames.size(); i = next++) {
                write_frame(plan.frames[i], plan, sizes, job);
            }
        } catch (...) {
            next = plan.frames.size();
            std::lock_guard lock(guard);
            if (!trouble) trouble = std::current_exception();
        }
    };
    std::vector<std::thread> workers;
    for (unsigned i = 0; i < std::max(1U, std::thread::hardware_concurrency()); ++i) {
        workers.emplace_back(work);
    }
    for (std::thread& worker : workers)
        worker.join();
    if (trouble) std::rethrow_exception(trouble);
}

void tell(const JobPlan& plan, const JobFolder& job, const fs::path& root) {
    int kept = 0;
    int proxies = 0;
    int prints = 0;
    for (const Frame& frame : plan.frames) {
        kept += frame.kept ? 1 : 0;
        proxies += frame.has_proxy ? 1 : 0;
        prints += frame.printed ? 1 : 0;
    }
    int rejected = static_cast<int>(plan.frames.size()) - kept;
    fmt::print(
        "{}: {} files, {:.1f} MB\n"
        "  {} frames from two bodies; one counter passes from 9999 to 0001\n"
        "  originals  {} raws with their sidecars\n"
        "  print      {} pictures\n"
        "  web        {} pictures\n"
        "  rejects    {} raws, {} of them with a JPEG\n",
        root.string(), job.files(), static_cast<double>(job.bytes()) / 1e6, plan.frames.size(),
        kept, prints, kept, rejected, proxies);
}

void make(const fs::path& root, std::uint64_t seed) {
    if (fs::exists(root) && !fs::is_empty(root)) {
        throw std::runtime_error(root.string() + " is not empty: name a new folder");
    }
    JobPlan plan = plan_job(seed);
    JobFolder job(root);
    write_frames(plan, JobSizes{}, job);
    write_system_junk(job);
    tell(plan, job, root);
}

}  // namespace

}  // namespace demo

int main(int argc, char** argv) {
    return demo::run_command(argc, argv, "glassine-demo-job", "FOLDER", demo::make);
}
