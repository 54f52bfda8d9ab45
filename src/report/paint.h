#pragma once

#include "glassine/base/finding.h"

#include <string>
#include <string_view>

namespace glassine::report {

/// Colour only ever underlines what a word says already.
class Paint {
  public:
    explicit Paint(bool color) : color_(color) {}

    std::string strong(std::string_view text) const { return wrap("1", text); }
    std::string good(std::string_view text) const { return wrap("32", text); }
    std::string bad(std::string_view text) const { return wrap("1;31", text); }
    std::string careful(std::string_view text) const { return wrap("33", text); }
    std::string faint(std::string_view text) const { return wrap("2", text); }

    std::string by(Severity severity, std::string_view text) const {
        switch (severity) {
            case Severity::damage:
            case Severity::blocking:
                return bad(text);
            case Severity::warning:
                return careful(text);
            case Severity::note:
                return faint(text);
        }
        return std::string(text);
    }

  private:
    std::string wrap(std::string_view code, std::string_view text) const {
        if (!color_) return std::string(text);
        return "\x1b[" + std::string(code) + "m" + std::string(text) + "\x1b[0m";
    }

    bool color_;
};

}  // namespace glassine::report
