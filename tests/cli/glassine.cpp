#include "cli/glassine.h"

namespace glassine::test {
namespace fs = std::filesystem;

std::map<std::string, std::string> Home::environment() const {
    std::map<std::string, std::string> out;
    for (const char* name : {"HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"})
        out[name] = (folder_ / "home").string();
    out["USER"] = "keeper";
    out["NO_COLOR"] = "";
    out["TERM"] = "xterm";
    return out;
}

fs::path Home::job(const JobSize& size) const {
    const fs::path job = folder_ / "job";
    if (!fs::exists(job)) write_small_job(job, size);
    return job;
}

fs::path Home::drive(const std::string& name) const {
    fs::create_directories(folder_ / name);
    return folder_ / name;
}

RunningProgram::Start Home::start(const Arguments& arguments) const {
    RunningProgram::Start start;
    start.command = {GLASSINE_PROGRAM};
    start.command.insert(start.command.end(), arguments.begin(), arguments.end());
    start.environment = environment();
    return start;
}

RunningProgram::Ended Home::glassine(const Arguments& arguments) const {
    return RunningProgram(start(arguments)).wait();
}

RunningProgram::Ended Home::interrupted(const Arguments& arguments,
                                        const std::vector<Interruption>& interruptions,
                                        const std::function<void()>& reset) const {
    constexpr int most_tries = 10;
    for (int tries = 1;; ++tries) {
        RunningProgram program(start(arguments));
        for (const auto& [moment, signal] : interruptions)
            if (program.wait_for_error_text(moment)) program.send(signal);
        const auto ended = program.wait();
        if (ended.code != 0 || tries == most_tries) return ended;
        reset();
    }
}

Json Home::ask(Arguments arguments, int code) const {
    arguments.emplace_back("--json");
    const auto ended = glassine(arguments);
    INFO(ended.out << ended.err);
    CHECK(ended.code == code);
    return json_of(ended);
}

fs::path Home::volume(const std::string& name, const std::string& kind,
                      const std::string& place) const {
    const fs::path root = drive(name);
    const auto ended = glassine({"shelf", "add", root.string(), "--label", "SHELF-" + name,
                                 "--place", place, "--kind", kind, "--purchase", name});
    INFO(ended.out << ended.err);
    REQUIRE(ended.code == 0);
    return root;
}

Arguments Home::closeout(const fs::path& job, const std::vector<fs::path>& drives,
                         const Arguments& more) {
    Arguments out{"closeout", job.string()};
    for (const fs::path& drive : drives)
        out.insert(out.end(), {"--to", drive.string()});
    out.insert(out.end(), {"--client", "Maren Holt", "--client", "Tomas Brandvik", "--date",
                           small_job_date, "--about", "Harbour gala"});
    out.insert(out.end(), more.begin(), more.end());
    return out;
}

fs::path Home::sealed_bag(const std::string& drive_name) const {
    const fs::path there = drive(drive_name);
    const auto ended = glassine(closeout(job(), {there}));
    INFO(ended.out << ended.err);
    REQUIRE(ended.code == 0);
    return there / bag_name;
}

Json json_of(const RunningProgram::Ended& ended) {
    INFO("standard output: " << ended.out << "\nstandard error: " << ended.err);
    REQUIRE(Json::accept(ended.out));
    return Json::parse(ended.out);
}

std::vector<std::string> paths_of(const Json& findings, const std::string& kind) {
    std::vector<std::string> out;
    for (const Json& finding : findings)
        if (finding.at("kind") == kind) out.push_back(finding.at("path"));
    return out;
}

}  // namespace glassine::test
