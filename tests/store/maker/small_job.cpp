#include "support/small_job.h"

#include <cstdlib>
#include <iostream>

/// small_job FOLDER KEPT REJECTED FILM-BYTES: a small job of real pictures, for tests that are no
/// C++.
int main(int argc, char** argv) {
    if (argc != 5) {
        std::cerr << "usage: small_job FOLDER KEPT REJECTED FILM-BYTES\n";
        return 2;
    }
    const auto number = [&](int at) { return std::strtoul(argv[at], nullptr, 10); };
    glassine::test::write_small_job(
        argv[1], {.kept = number(2), .rejected = number(3), .film_bytes = number(4)});
    return 0;
}
