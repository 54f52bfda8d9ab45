#pragma once

#include "glassine/flow/sink.h"
#include "glassine/recovery/damage.h"
#include "glassine/recovery/recovery_set.h"

#include <cstdint>
#include <functional>
#include <memory>
#include <stop_token>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::recovery {

/// What can be brought back, and how much of the healing capacity that takes.
struct Outlook {
    std::vector<std::string> from_recovery;  ///< files healable from the bag's own recovery data
    std::vector<std::string> from_copies;  ///< files that need blocks from the other copies as well
    std::vector<std::string> beyond;       ///< files that need another copy than those given

    std::uint64_t damaged_blocks = 0;
    std::uint64_t repair_blocks = 0;  ///< usable, in the windows that have damage
    std::uint32_t fullest_lost =
        0;  ///< in the code word with the least to spare: source symbols lost …
    std::uint32_t fullest_repair = 0;  ///< … and repair symbols usable

    bool nothing_beyond() const { return beyond.empty(); }
};

/// "12 of 6,552 repair blocks needed; the fullest code word has lost 3 of the 12 blocks that it
/// can": one sentence.
std::string describe(const Outlook& outlook);

/// How one file was put together again.
struct Healed {
    std::string name;
    std::uint64_t size = 0;
    std::vector<Change> changes;           ///< from what stood there to what is right, ascending
    std::uint64_t blocks_rebuilt = 0;      ///< from recovery data
    std::uint64_t blocks_from_copies = 0;  ///< taken from other copies
};

/// Takes the healed files, one after the other, each from its first byte to its last.
///
/// The bytes are as right as the check values of the blocks can tell. The proof is the receiver's:
/// a file counts only when its digest is the one in the manifest.
class HealedFiles {
  public:
    virtual ~HealedFiles() = default;
    virtual void begin(const std::string& name, std::uint64_t size) = 0;
    virtual void bytes(std::span<const std::byte> bytes) = 0;
    virtual void end(const Healed& healed) = 0;
    /// The file could not be put together after all (more damage came to light): after `begin`, or
    /// without it.
    virtual void failed(const std::string& name, const std::string& why) = 0;
};

struct RebuildOptions {
    std::vector<io::Path>
        others;  ///< other copies of the bag: blocks that have the right check value are taken
    std::stop_token stop;  ///< checked for each block read; then Error `interrupted`
    std::function<void(std::uint64_t bytes_read)>
        progress;  ///< called now and then with what was read since; may be empty
};

/// Puts damaged files together again from their intact blocks, the repair blocks, and blocks of
/// other copies.
///
/// Order of preference: the bag's own recovery data; for code words that have lost more than it can
/// give back, blocks of the other copies, so that what remains can be rebuilt. Nothing is written
/// here. Memory: the rebuilt blocks of one window, never more than the window's repair blocks.
/// Blocks are checked again whenever they are read; damage that only then comes to light is taken
/// into account.
class Rebuilder {
  public:
    /// `set` made with the same `bag` and other copies; `damages` as a `Locator` found them.
    Rebuilder(io::FileSystem& files, io::Path bag, RecoverySet& set,
              std::vector<FileDamage> damages, RebuildOptions options = {});
    ~Rebuilder();

    /// Reads the recovery files of the windows that have damage and, where needed, looks into the
    /// other copies.
    const Outlook& outlook();

    /// Hands every file that is not beyond repair to `receiver`, in the order of groups and names.
    void run(HealedFiles& receiver);

  private:
    struct State;
    std::unique_ptr<State> state_;
};

/// Makes a recovery file again from the files that it covers, byte for byte as it was. The files
/// should have been proven right. Throws Error when one cannot be read or has another size.
void regenerate(io::FileSystem& files, const io::Path& bag, const Window& window,
                std::span<flow::Sink* const> outputs, const std::stop_token& stop = {});

}  // namespace glassine::recovery
