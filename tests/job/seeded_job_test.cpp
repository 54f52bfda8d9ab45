#include "seeded_job.h"

#include "glassine/photo/dcf.h"

#include <algorithm>

#include <catch2/catch.hpp>
#include <fmt/format.h>

using namespace std::chrono_literals;

namespace glassine::test {

using job::Section;

std::size_t SeededJob::add(Section section, const std::string& below,
                           const photo::Picture& picture) {
    job::JobFile file;
    file.section = section;
    file.role = job::role_of(section, job::file_name_of(below));
    file.shown = std::string(word(section)) + '/' + below;
    file.path = "/job/" + file.shown;
    file.below = below;
    if (section != Section::rejects || file.role != job::Role::raw)
        file.name = std::string(payload_folder(section)) + '/' + below;
    file.size = 1000 + files.size();
    files.push_back(file);
    job::Observed one;
    one.picture = picture;
    one.sha512 = digest::digest_of(digest::Algorithm::sha512, file.shown);
    observed.push_back(one);
    return files.size() - 1;
}

std::size_t SeededJob::find(std::string_view shown) const {
    const auto at = std::ranges::find(files, shown, &job::JobFile::shown);
    CAPTURE(shown);
    REQUIRE(at != files.end());
    return static_cast<std::size_t>(at - files.begin());
}

void SeededJob::remove(std::string_view shown) {
    const auto at = static_cast<std::ptrdiff_t>(find(shown));
    files.erase(files.begin() + at);
    observed.erase(observed.begin() + at);
}

void SeededJob::rename(std::string_view shown, const std::string& below) {
    const std::size_t at = find(shown);
    const Section section = files[at].section;
    const job::Observed kept = observed[at];
    files.erase(files.begin() + static_cast<std::ptrdiff_t>(at));
    observed.erase(observed.begin() + static_cast<std::ptrdiff_t>(at));
    observed[add(section, below)] = kept;
    // Back to where the scan would have it: by section.
    std::rotate(files.begin() + static_cast<std::ptrdiff_t>(at), files.end() - 1, files.end());
    std::rotate(observed.begin() + static_cast<std::ptrdiff_t>(at), observed.end() - 1,
                observed.end());
}

job::Accounting SeededJob::account() const {
    return job::account(files, observed, question);
}

photo::Picture SeededJob::shot(const Camera& camera,
                               std::chrono::local_time<std::chrono::milliseconds> moment) {
    photo::Picture picture;
    picture.kind = photo::Kind::dng;
    picture.verdict = photo::Verdict::whole;
    picture.make = camera.make;
    picture.model = camera.model;
    picture.serial = camera.serial;
    picture.captured = photo::CaptureTime{moment, true, {}};
    picture.width = 6000;
    picture.height = 4000;
    return picture;
}

photo::Picture SeededJob::exported(const photo::Picture& shot, const std::string& original_name) {
    photo::Picture picture = shot;
    picture.kind = photo::Kind::jpeg;
    picture.original_name = original_name;
    picture.width = 2400;
    picture.height = 1600;
    picture.has_profile = true;
    picture.profile_name = "sRGB";
    picture.color_space = photo::ColorSpace::srgb;
    picture.has_rights = true;
    return picture;
}

std::string next_name(Camera& camera) {
    const std::string name = fmt::format("{}{:04}.DNG", camera.prefix, camera.number);
    camera.number = photo::dcf::next(camera.number);
    return name;
}

std::chrono::local_time<std::chrono::milliseconds> clean_moment(int body, int k) {
    // Spells of ten frames each: 10:00, 13:20 and 17:05, frames four minutes apart, the second body
    // a little later than the first.
    constexpr std::chrono::minutes spells[] = {10h + 0min, 13h + 20min, 17h + 5min};
    return std::chrono::local_days(2025y / 9 / 6) + spells[k / 10] + 4min * (k % 10) + body * 67s +
           130ms * (k % 7);
}

SeededJob clean_job() {
    SeededJob job;
    job.question.date = 2025y / 9 / 6;
    std::vector<Camera> cameras{{"Quillon", "Quillon QX-2", "440017", "QX2_", 9990},
                                {"Vesper", "V7", "V7-0099", "VESP", 431}};
    std::vector<std::pair<std::string, photo::Picture>> kept;
    std::vector<std::pair<std::string, photo::Picture>> rejected;
    for (int body = 0; body < 2; ++body) {
        for (int k = 0; k < 30; ++k) {
            Camera& camera = cameras[static_cast<std::size_t>(body)];
            const photo::Picture picture = SeededJob::shot(camera, clean_moment(body, k));
            const std::string name = next_name(camera);
            (k % 4 == 3 ? rejected : kept).emplace_back(name, picture);
        }
    }
    photo::Picture sidecar;
    sidecar.kind = photo::Kind::xmp;
    sidecar.verdict = photo::Verdict::whole;
    for (const auto& [name, picture] : kept) {
        job.add(Section::originals, name, picture);
        job.add(Section::originals, name.substr(0, 8) + ".xmp", sidecar);
    }
    for (const Section section : {Section::print, Section::web}) {
        int count = 0;
        for (const auto& [name, picture] : kept)
            job.add(section, fmt::format("okafor-gala-{:03}.jpg", ++count),
                    SeededJob::exported(picture, name));
    }
    for (const auto& [name, picture] : rejected) {
        job.add(Section::rejects, name, picture);
        job.add(Section::rejects, name.substr(0, 8) + ".JPG", SeededJob::exported(picture, {}));
    }
    return job;
}

}  // namespace glassine::test

using namespace glassine;

TEST_CASE("a clean job has no finding and its frames add up") {
    const test::SeededJob job = test::clean_job();
    const job::Accounting accounting = job.account();
    for (const Finding& finding : accounting.findings)
        UNSCOPED_INFO(word(finding.kind) << " " << finding.path << ": " << finding.detail);
    CHECK(accounting.findings.empty());
    CHECK(accounting.frames.size() == 60);
    CHECK(accounting.bodies.size() == 2);
    CHECK(accounting.made_proxies.empty());

    const job::Summary& summary = accounting.summary;
    REQUIRE(summary.bodies.size() == 2);
    CHECK(summary.bodies[0].label == "Quillon QX-2, serial 440017");
    CHECK(summary.bodies[1].label == "Vesper V7, serial V7-0099");
    CHECK(summary.bodies[0].shot == 30);
    CHECK(summary.bodies[0].kept == 23);
    CHECK(summary.bodies[0].rejected == 7);
    CHECK(summary.bodies[0].first->local == test::clean_moment(0, 0));
    CHECK(summary.bodies[0].last->local == test::clean_moment(0, 29));
    CHECK(summary.total.shot == 60);
    CHECK(summary.total.missing == 0);
    CHECK(summary.total.broken == 0);
    CHECK(summary.delivered == 46);

    const job::Frame& frame = accounting.frames.front();
    CHECK(frame.name == "QX2_9990");
    CHECK(frame.number == 9990);
    CHECK(frame.state == job::FrameState::kept);
    CHECK(frame.originals.size() == 1);
    CHECK(frame.sidecars.size() == 1);
    CHECK(frame.print.size() == 1);
    CHECK(frame.web.size() == 1);
    CHECK(job.files[frame.print.front()].shown == "print/okafor-gala-001.jpg");
}

TEST_CASE("the order in which files come makes no difference") {
    test::SeededJob job = test::clean_job();
    const job::Accounting before = job.account();
    for (unsigned seed = 1; seed < 6; ++seed) {
        unsigned state = seed;
        for (std::size_t i = job.files.size() - 1; i > 0; --i) {
            state = state * 1664525U + 1013904223U;
            const std::size_t j = (state >> 8) % (i + 1);
            std::swap(job.files[i], job.files[j]);
            std::swap(job.observed[i], job.observed[j]);
        }
        const job::Accounting after = job.account();
        CHECK(after.findings.empty());
        REQUIRE(after.frames.size() == before.frames.size());
        for (std::size_t i = 0; i < after.frames.size(); ++i) {
            CHECK(after.frames[i].name == before.frames[i].name);
            CHECK(after.frames[i].state == before.frames[i].state);
        }
    }
}
