#pragma once

#include "canvas.h"
#include "pictures.h"

namespace demo {

/// What the encoder needs beside the pixels; segments in the order in which they are written.
struct JpegParts {
    std::vector<std::pair<int, std::string>> segments;  ///< APPn number and body
    std::string icc;
};

std::string encode_jpeg(const Canvas& canvas, const JpegOptions& options, const JpegParts& parts);

}  // namespace demo
