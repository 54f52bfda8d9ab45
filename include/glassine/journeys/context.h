#pragma once

#include "glassine/flow/river.h"
#include "glassine/io/file_system.h"
#include "glassine/job/studio.h"
#include "glassine/store/object_file_system.h"

#include <memory>
#include <stop_token>
#include <string>
#include <string_view>

/// One file for each thing a user does; each reads from top to bottom as the way the data takes.
namespace glassine::journeys {

/// Hears of the phases of a journey. Implementations may be called from several threads.
class Monitor {
  public:
    virtual ~Monitor() = default;
    /// A phase begins, in words a photographer understands ("Reading and copying 412 files"); it is
    /// over when the observer is destroyed. Several may run side by side (one for each
    /// destination).
    virtual std::unique_ptr<flow::Observer> phase(std::string words) = 0;
};

/// Hears nothing.
class SilentMonitor : public Monitor {
  public:
    std::unique_ptr<flow::Observer> phase(std::string) override {
        return std::make_unique<flow::Observer>();
    }
};

/// What a journey works with.
struct Context {
    io::FileSystem& files;
    Monitor& monitor;
    job::Studio studio;
    std::stop_token stop;
    std::string person;  ///< who runs the program, for events; may be empty
    flow::Resources resources;
    /// The shelf's register (SQLite), opened when it is needed; empty: nothing is recorded and
    /// nothing known.
    io::Path register_file{};
    /// The store of the studio file, opened when it is needed; empty: there is none. `files` reads
    /// from it.
    store::ClientSource object_store{};
};

}  // namespace glassine::journeys
