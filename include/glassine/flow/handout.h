#pragma once

#include "glassine/flow/sink.h"
#include "glassine/io/file_system.h"

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace glassine::flow {

/// Takes files one by one, each whole or not at all: whoever brings the bytes says at the end of
/// each file whether it counts. (A `Destination` takes a bag as a whole.)
class Receiver {
  public:
    virtual ~Receiver() = default;

    /// One file on its way. Destroyed without `keep`, it leaves nothing behind.
    class File {
      public:
        virtual ~File() = default;
        virtual void append(std::span<const std::byte> bytes) = 0;
        /// The file counts, exactly as it was brought. Once, after the last byte.
        virtual void keep() = 0;
    };
    /// `item`'s name, size and time are those that the file is to have. From several threads; a
    /// name may come again when it was not kept before.
    virtual std::unique_ptr<File> create(const Item& item) = 0;
};

/// Where pictures are handed out to: a folder, or ZIP files. What arrives is whole or not there,
/// and nothing that stands there already is ever replaced.
///
/// The order of calls: `check`, `prepare`, `create` for each file, `publish`. Until `publish`
/// nothing stands under its name; `abandon` takes back what was begun.
class Handout : public Receiver {
  public:
    /// As the user named it.
    virtual std::string name() const = 0;
    struct Need {
        std::uint64_t bytes = 0;
        std::uint64_t files = 0;
    };
    /// Looks without writing: Error when the place is missing, taken or too small.
    virtual void check(const Need& need) = 0;
    /// The file that stands already where a file of this name would go; empty path: none. (ZIP
    /// files are made anew: there is never one.)
    virtual io::Path standing(const std::string& name) = 0;
    /// Makes room to write in, clearing what an interrupted run left behind.
    virtual void prepare() = 0;

    struct Published {
        std::vector<std::string> paths;  ///< of the ZIP files; for a folder the folder itself
        std::vector<std::string> taken;  ///< names whose place was taken meanwhile: not handed out
    };
    /// Brings everything to the medium and gives it its names, replacing nothing.
    virtual Published publish() = 0;
    /// Takes back what was not published; never throws.
    virtual void abandon() noexcept = 0;
};

/// Files below `folder`, which is created where only its last part is missing. Staged inside it.
std::unique_ptr<Handout> folder_handout(io::FileSystem& files, io::Path folder);

/// One ZIP file, `zip`, or with `split` (bytes, 0: never) as many as needed, `NAME-1.zip`,
/// `NAME-2.zip` and so on: each opens by itself, and none is larger than `split` unless a single
/// file is. Staged beside it. docs/zip.md describes the form.
std::unique_ptr<Handout> zip_handout(io::FileSystem& files, io::Path zip, std::uint64_t split = 0);

/// Returns when the content of all these files is on the medium; several at once, so that one
/// entry in the file system's journal serves many.
void sync_files(io::FileSystem& files, std::span<const io::Path> paths);

}  // namespace glassine::flow
