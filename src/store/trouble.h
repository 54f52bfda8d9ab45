#pragma once

#include "glassine/base/error.h"
#include "store/http.h"

#include <string>

namespace glassine::store {

/// Why a request did not do what it should.
struct Trouble {
    std::string code;  ///< the store's own word, "NoSuchBucket"; empty without an answer
    bool may_pass = false;
};

/// What is wrong with an answer; `code` empty and `may_pass` false where it is as it should be.
bool is_good(const HttpAnswer& answer);
Trouble trouble_of(const HttpAnswer& answer);

/// The Error for it: `tried` and `address` as in `Error`.
Error error_for(const HttpAnswer& answer, const std::string& tried, const std::string& address,
                const Settings& settings);

}  // namespace glassine::store
