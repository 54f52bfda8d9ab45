#pragma once

#include "glassine/io/file_system.h"
#include "glassine/recovery/rebuilder.h"
#include "glassine/report/results.h"
#include "journeys/mend_proofs.h"

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::journeys {

/// Whether a folder is one in which a mending kept damaged files.
bool is_quarantine(io::FileSystem& files, const io::Path& folder);

/// Where healed files are made: a folder beside the bag. A file leaves it only with its digest
/// proven; the damaged one is kept in a quarantine folder, also beside the bag, with a log of what
/// was healed. Nothing is ever removed but what was made here.
///
/// A file of the bag is at every moment the damaged one or the healed one. Only where the damaged
/// one cannot be read to its end (or is no file) is it moved away first; should the work be cut off
/// right then, the next run finds the healed one still here (`adopt`).
class MendWorkshop {
  public:
    /// Error `busy` when another program mends this bag.
    MendWorkshop(io::FileSystem& files, io::Path bag);
    ~MendWorkshop();
    static bool has_leftovers(io::FileSystem& files, const io::Path& bag);

    /// Takes over a file that an interrupted run had ready, if it is what the proof says.
    bool adopt(const std::string& name, const Proof& proof);

    /// Takes the rebuilt files of a `Rebuilder`; those that are not what `proofs` say are thrown
    /// away.
    std::unique_ptr<recovery::HealedFiles> receiver(const Proofs& proofs);
    /// Makes a file from a whole one elsewhere; false when that is not what the proof says.
    bool take_copy(const std::string& name, const Proof& proof, const io::Path& source,
                   std::string from);
    /// Makes a file of known content.
    void make(const std::string& name, std::string_view content, std::string from);
    /// Makes a file by what is written into the sink under any name; `proof` as in `take_copy`.
    bool make_from(const std::string& name, const Proof& proof, std::string from,
                   const std::function<void(flow::Sink&)>& write);

    /// True when a tag file or recovery file was put together, every check value right, and yet is
    /// not what the tag manifest says: then it is the tag manifest that cannot be trusted.
    bool contradicted() const { return contradicted_; }
    bool made(const std::string& name) const { return ready_.contains(name); }
    /// Puts every file that was made into its place, durably, and says what was done.
    std::vector<report::HealedFile> put_in_place();

    /// The folder that keeps the damaged files; empty when none was moved.
    std::string quarantine() const;

  private:
    class Receiver;
    class Writing;
    struct Ready {
        std::string from;
        std::vector<std::string> changes;
    };

    io::Path staged(const std::string& name) const;
    std::unique_ptr<io::OutputFile> create(const std::string& name);
    void discard(const std::string& name);
    void clear_way(const std::string& name);
    io::Path aside(const std::string& name) const;
    bool copy_aside(const std::string& name);
    void swap(const std::string& name);
    void put_one(const std::string& name, const Ready& ready);
    void log(const std::string& name, const Ready& ready);

    io::FileSystem& files_;
    io::Path bag_;
    io::Path folder_;
    io::Path quarantine_;
    bool quarantine_used_ = false;
    bool contradicted_ = false;
    bool swapping_ = false;  ///< a place in the bag may be empty, its file still here
    std::unique_ptr<io::Lock> lock_;
    std::map<std::string, Ready> ready_;
};

}  // namespace glassine::journeys
