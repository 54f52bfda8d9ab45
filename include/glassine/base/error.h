#pragma once

#include <stdexcept>
#include <string>

namespace glassine {

/// Why a piece of work could not be done. One word a caller can branch on; people read
/// `Error::what()`.
enum class Cause {
    not_found,      ///< the path does not exist (any more)
    permission,     ///< the operating system refuses access
    exists,         ///< something stands already where it was to be written
    no_space,       ///< the volume (or its quota) is full
    read_only,      ///< the volume or medium cannot be written
    unreadable,     ///< the medium gave back an input/output error
    not_supported,  ///< the file system cannot do this
    busy,           ///< another program holds it
    malformed,      ///< the content is not what it claims to be
    changed,        ///< the file moved under the reader's hands
    interrupted,    ///< the user asked to stop
    usage,          ///< what was asked for makes no sense; the command line is to be changed
    other,
};

/// Work that could not be done: what was tried, on which path, why it failed, what to do next.
///
/// The only exception that Glassine throws on purpose. What was *found* (damage, an invalid bag) is
/// a `Finding`, never an Error. Thrown where it happens; caught once per file in the flow, where it
/// becomes an outcome and the rest goes on, and once in the program.
class Error : public std::runtime_error {
  public:
    /// `tried` completes "could not …" (e.g. "read", "create the folder"); `why` and `next` are
    /// plain sentences without a full stop; `next` may be empty.
    Error(Cause cause, std::string tried, std::string path, std::string why, std::string next = {});

    Cause cause() const { return cause_; }
    const std::string& tried() const { return tried_; }
    /// The path as the operating system has it; escape it before printing (`text::for_terminal`).
    const std::string& path() const { return path_; }
    const std::string& why() const { return why_; }
    const std::string& next() const { return next_; }

    /// "could not TRIED: WHY; NEXT", without the path: `what()` puts the path in front.
    std::string sentence() const;

  private:
    Cause cause_;
    std::string tried_;
    std::string path_;
    std::string why_;
    std::string next_;
};

}  // namespace glassine
