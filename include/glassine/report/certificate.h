#pragma once

#include "glassine/report/results.h"

#include <string>
#include <vector>

/// The close-out certificate: one page for the job's paper file. It says what was sealed, where the
/// copies are, and how anybody can check them in thirty years with nothing but a checksum tool.
namespace glassine::report {

struct CertificateHead {
    std::string studio;
    std::string person;  ///< who closed the job out
    std::vector<std::string> clients;
    std::string about;
    std::string shoot_date;  ///< "2025-09-06"
    std::string job_number;
    std::string promised_until;  ///< to the client; empty: nothing was said for this job
    std::string keep_until;      ///< what the studio means to do; empty as well
    /// Which volume and which device, by `CloseoutResult::copies`.
    std::vector<std::string> drives;
};

/// Only for a job that was sealed: `result.seal` is not empty and a copy is verified. All text from
/// outside is escaped.
std::string certificate_page(const CloseoutResult& result, const CertificateHead& head);

}  // namespace glassine::report
