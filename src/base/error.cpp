#include "glassine/base/error.h"

#include "glassine/base/text.h"

#include <utility>

namespace glassine {
namespace {

std::string sentence_of(const std::string& tried, const std::string& why, const std::string& next) {
    std::string text = "could not " + tried + ": " + why;
    if (!next.empty()) text += "; " + next;
    return text;
}

std::string full_text(const std::string& tried, const std::string& path, const std::string& why,
                      const std::string& next) {
    const std::string sentence = sentence_of(tried, why, next);
    return path.empty() ? sentence : text::for_terminal(path) + ": " + sentence;
}

}  // namespace

Error::Error(Cause cause, std::string tried, std::string path, std::string why, std::string next)
    : std::runtime_error(full_text(tried, path, why, next)),
      cause_(cause),
      tried_(std::move(tried)),
      path_(std::move(path)),
      why_(std::move(why)),
      next_(std::move(next)) {}

std::string Error::sentence() const {
    return sentence_of(tried_, why_, next_);
}

}  // namespace glassine
