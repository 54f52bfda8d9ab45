#pragma once

#include "glassine/base/finding.h"

#include <initializer_list>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json.hpp>

namespace glassine::bagit {

/// Takes typed values out of a profile's JSON and tells what is not of its type.
class ProfileReader {
  public:
    using Json = nlohmann::ordered_json;

    ProfileReader(const Json& object, std::string within, std::string file,
                  std::vector<Finding>& findings)
        : object_(object),
          within_(std::move(within)),
          file_(std::move(file)),
          findings_(findings) {}

    bool has(const char* key) const { return object_.contains(key); }
    /// Not there, or a list of nothing; a value of another type is told by `list`.
    bool lists_nothing(const char* key) const;
    std::string text(const char* key);
    bool flag(const char* key, bool otherwise);
    /// Empty when the key is not there.
    std::vector<std::string> list(const char* key);
    /// The object below a key; null when it is not there or no object.
    const Json* object(const char* key);

    void problem(Severity severity, std::string detail);
    /// Keys that the specification does not know are told once, as a note.
    void tell_others(std::initializer_list<std::string_view> known);

  private:
    std::string shown(std::string_view key) const;
    void wrong_type(const char* key, std::string_view wanted);

    const Json& object_;
    std::string within_;  ///< the key that the object stands under; empty: the whole
    std::string file_;
    std::vector<Finding>& findings_;
};

}  // namespace glassine::bagit
