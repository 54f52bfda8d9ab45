#pragma once

#include "photo/bytes.h"

#include <memory>
#include <mutex>
#include <string>

#include <exiv2/exiv2.hpp>

namespace glassine::photo {

/// Exiv2 0.27 keeps registries of tags and namespaces that are not all guarded: everything that
/// calls it holds this lock. Reading metadata takes a thousandth of decoding a picture, so nobody
/// waits long. The first one through makes the one-time initialisation and silences Exiv2's
/// messages.
std::unique_lock<std::mutex> lock_exiv2();

/// The metadata of a file in memory (which must outlive it); nullptr where Exiv2 cannot read it, in
/// whatever way it fails. Call under the lock.
std::unique_ptr<Exiv2::Image> open_metadata(Bytes file);

/// The value of a tag as UTF-8 without surrounding blanks; empty when it is missing.
std::string value_of(const Exiv2::ExifData& exif, const char* key);
std::string value_of(const Exiv2::XmpData& xmp, const char* key);
std::string value_of(const Exiv2::IptcData& iptc, const char* key);

}  // namespace glassine::photo
