#include "cli/program.h"

#include "cli/progress.h"
#include "glassine/io/file_system.h"

#include <cstdio>
#include <cstdlib>

#include <unistd.h>

namespace glassine::cli {
namespace {

/// Relative values are invalid and ignored (XDG Base Directory Specification 0.8).
std::string xdg_folder(const char* variable, const char* below_home) {
    std::string given = environment(variable);
    if (given.starts_with("/")) return given;
    const std::string home = environment("HOME");
    return home.empty() ? "" : home + below_home;
}

job::Studio read_studio_settings(io::FileSystem& files, const std::string& given) {
    if (!given.empty()) return job::read_studio(files, given);
    const std::string folder = xdg_folder("XDG_CONFIG_HOME", "/.config");
    const io::Path usual = io::Path(folder) / "glassine" / "studio.toml";
    if (folder.empty() || !files.find(usual)) return {};
    return job::read_studio(files, usual);
}

io::Path register_place(const std::string& given) {
    if (!given.empty()) return given;
    const std::string folder = xdg_folder("XDG_DATA_HOME", "/.local/share");
    return folder.empty() ? io::Path() : io::Path(folder) / "glassine" / "register.db";
}

}  // namespace

journeys::Context Program::context() {
    if (quiet)
        monitor_ = std::make_unique<journeys::SilentMonitor>();
    else
        monitor_ = progress_monitor(::isatty(STDERR_FILENO) == 1 && environment("TERM") != "dumb");
    io::FileSystem& local = io::posix_file_system();
    job::Studio studio = read_studio_settings(local, studio_file);
    if (store_rate != 0) studio.object_store["rate"] = std::to_string(store_rate);
    store_ = std::make_unique<ObjectStore>(local, studio.object_store, stop.get_token());
    std::string person = environment("USER");
    if (person.empty()) person = environment("LOGNAME");
    return {store_->files(),
            *monitor_,
            std::move(studio),
            stop.get_token(),
            person,
            {},
            register_place(register_file),
            store_->source()};
}

report::TerminalStyle Program::style() const {
    report::TerminalStyle style;
    // no-color.org: set and not empty means none; an explicit option weighs more.
    const bool automatic = ::isatty(STDOUT_FILENO) == 1 && environment("NO_COLOR").empty() &&
                           environment("TERM") != "dumb";
    style.color = color == "always" || (color == "auto" && automatic);
    return style;
}

void print(std::string_view text) {
    std::fwrite(text.data(), 1, text.size(), stdout);
    std::fflush(stdout);
}

void complain(std::string_view message) {
    say_beside_progress("glassine: " + std::string(message) + "\n");
}

}  // namespace glassine::cli
