#pragma once

#include <cstddef>
#include <filesystem>
#include <string>

namespace glassine::test {

/// How large a job to make. Everything in it is a real picture, only a small one.
struct JobSize {
    std::size_t kept = 3;      ///< frames, each a DNG with its sidecar, delivered for print and web
    std::size_t rejected = 1;  ///< frames, each a DNG and a JPEG
    std::size_t film_bytes = 0;  ///< of a film beside the originals; 0: none
};

/// A delivered job of an invented studio in the folders `originals/`, `print/`, `web/`, `rejects/`
/// below `folder`, with nothing in it that stops a close-out. Shot on 2025-06-14.
void write_small_job(const std::filesystem::path& folder, const JobSize& size = {});

inline constexpr const char* small_job_date = "2025-06-14";

}  // namespace glassine::test
