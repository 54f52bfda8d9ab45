#include "cli/glassine.h"

#include <sstream>

using namespace glassine::test;
namespace fs = std::filesystem;

TEST_CASE("help names every command, and each command's help shows examples") {
    const Home home;
    const auto all = home.glassine({"--help"});
    CHECK(all.code == 0);
    CHECK(all.err.empty());
    CHECK(contains(all.out, "Exit codes"));
    for (const std::string command : {"closeout", "inspect", "audit"}) {
        INFO(command);
        CHECK(contains(all.out, command));
        for (const char* flag : {"--help", "-h"}) {
            const auto help = home.glassine({command, flag});
            CHECK(help.code == 0);
            CHECK(contains(help.out, "Examples:"));
            CHECK(contains(help.out, "glassine " + command + " "));
            CHECK(contains(help.out, "--json"));
            CHECK(contains(help.out, "--quiet"));
        }
    }
}

TEST_CASE("run bare, the program shows help and ends with 2") {
    const Home home;
    const auto bare = home.glassine({});
    CHECK(bare.code == 2);
    CHECK(contains(bare.out, "closeout"));
}

TEST_CASE(
    "a command that is none is answered with the nearest one, an option's value is not taken for "
    "it") {
    const Home home;
    const auto wrong = home.glassine({"--color", "never", "adit", "somewhere"});
    CHECK(wrong.code == 2);
    CHECK(contains(wrong.err, "there is no command \"adit\"; did you mean \"audit\"?"));
    const auto missing = home.glassine({"--color", "never", "audit"});
    CHECK(missing.code == 2);
    CHECK_FALSE(contains(missing.err, "there is no command"));
    CHECK(contains(missing.err, "see `glassine audit --help`"));
}

TEST_CASE("help keeps to eighty columns") {
    const Home home;
    for (const Arguments& arguments :
         {Arguments{"--help"}, {"closeout", "--help"}, {"audit", "--help"}, {"mend", "--help"}}) {
        std::istringstream lines(home.glassine(arguments).out);
        for (std::string line; std::getline(lines, line);) {
            INFO(line);
            // A path of an example may be longer than a line.
            CHECK((line.size() <= 80 || line.find("/mnt/") != std::string::npos));
        }
    }
}

// An option that may be given several times once took all that followed it: `closeout --to DRIVE
// JOB` then said that JOB was missing.
TEST_CASE("an option given several times takes one value each time") {
    const Home home;
    const fs::path job = home.job();
    const fs::path drive = home.drive("drive-a");
    const auto ended =
        home.glassine({"closeout", "--client", "Maren Holt", "--date", small_job_date, "--about",
                       "gala", "--to", drive.string(), job.string(), "--dry-run"});
    INFO(ended.err);
    CHECK(ended.code == 0);
    CHECK(contains(ended.out, "would copy to " + drive.string()));
}

TEST_CASE("the option --version tells name and version") {
    const Home home;
    const auto ended = home.glassine({"--version"});
    CHECK(ended.code == 0);
    CHECK(ended.out.starts_with("glassine "));
}

TEST_CASE("options that all commands share may stand before the command or behind it") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    const auto before = home.glassine({"--json", "--quiet", "audit", bag.string()});
    const auto behind = home.glassine({"audit", bag.string(), "--json", "-q"});
    CHECK(before.code == 0);
    CHECK(behind.code == 0);
    CHECK(json_of(before).at("bags") == json_of(behind).at("bags"));
}

TEST_CASE("colour is off without a terminal and on when asked for") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    const auto with = [&](const Arguments& more, const char* no_color) {
        Arguments arguments{"audit", bag.string()};
        arguments.insert(arguments.end(), more.begin(), more.end());
        auto start = home.start(arguments);
        start.environment["NO_COLOR"] = no_color;
        return RunningProgram(start).wait().out;
    };
    CHECK_FALSE(contains(with({}, ""), "\x1b"));
    CHECK_FALSE(contains(with({"--color", "never"}, ""), "\x1b"));
    CHECK(contains(with({"--color", "always"}, ""), "\x1b["));
    // no-color.org: "User-level configuration files and per-instance command-line arguments should
    // override the NO_COLOR environment variable."
    CHECK(contains(with({"--color", "always"}, "1"), "\x1b["));
    // `script` (util-linux) gives the program a terminal.
    const auto on_terminal = [&](const char* no_color) {
        auto environment = home.environment();
        environment["NO_COLOR"] = no_color;
        return run({"script", "-qec",
                    std::string(GLASSINE_PROGRAM) + " audit -q " + bag.string() + "/absent; " +
                        GLASSINE_PROGRAM + " audit " + bag.string() + " 2> /dev/null",
                    "/dev/null"},
                   {}, environment)
            .out;
    };
    if (run({"script", "--version"}).code != 0) CANNOT_TEST_HERE("there is no `script` program");
    CHECK(contains(on_terminal(""), "\x1b[32m"));
    CHECK_FALSE(contains(on_terminal("1"), "\x1b["));
}

TEST_CASE("a terminal gets a progress line that leaves no trace") {
    const Home home;
    const fs::path bag = home.sealed_bag();
    if (run({"script", "--version"}).code != 0) CANNOT_TEST_HERE("there is no `script` program");
    const auto ended = run(
        {"script", "-qec",
         std::string(GLASSINE_PROGRAM) + " audit " + bag.string() + " > /dev/null", "/dev/null"},
        {}, home.environment());
    CHECK(contains(ended.out, "Checking"));
    // The last thing drawn is an emptied line (ECMA-48 §8.3.39, ED).
    const std::size_t last = ended.out.rfind("\x1b[J");
    REQUIRE(last != std::string::npos);
    CHECK(ended.out.find("Checking", last) == std::string::npos);
}
