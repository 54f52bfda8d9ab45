// Checks the bag at the path given with Glassine's library, and tells what it found.
#include "glassine/base/version.h"
#include "glassine/journeys/audit.h"

#include <iostream>

int main(int argc, char** argv) {
    using namespace glassine;
    if (argc != 2) return 2;
    journeys::SilentMonitor monitor;
    const journeys::Context context{.files = io::posix_file_system(), .monitor = monitor};
    try {
        const report::AuditResult result = journeys::audit(context, {{argv[1]}, false});
        std::cout << version() << '\n';
        for (const report::AuditedBag& bag : result.bags)
            std::cout << bag.report.name << (*bag.report.valid ? " is whole\n" : " is damaged\n");
        return static_cast<int>(result.ending);
    } catch (const Error& error) {
        std::cerr << error.what() << '\n';
        return 3;
    }
}
