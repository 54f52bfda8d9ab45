#pragma once

#include "glassine/job/layout.h"

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace glassine::job {

/// A JPEG to be made for a rejected raw.
struct ProxyToMake {
    std::size_t raw = 0;  ///< index of the file
    std::string name;     ///< in the bag: "data/reject-proxies/ABCD0003.jpg"
};

/// The rejected raws without a JPEG of the same name beside them, or anywhere in the rejects where
/// no other raw has that name. Indices, ascending.
std::vector<std::size_t> raws_without_proxy(std::span<const JobFile> files);

/// What has to be made while the job is read: a proxy for every rejected raw without a JPEG of the
/// same name among the rejects. The names are those of the raws, and no file of the payload has
/// them, blind to case.
std::vector<ProxyToMake> proxies_to_make(std::span<const JobFile> files);

}  // namespace glassine::job
