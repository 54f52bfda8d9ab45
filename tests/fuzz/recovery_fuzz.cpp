// The reader of recovery files, down to the healing of files from them. The first byte says which
// file it is (bit 0) and whether check values are put right (bit 1): without that, hardly anything
// that the fuzzer invents would get past them, and with it, it can be as wrong as an attacker can
// make it.

#include "../recovery/small_bag.h"
#include "glassine/recovery/locator.h"
#include "recovery/bytes.h"
#include "recovery/packet.h"

#include <cstdlib>

using namespace glassine;
using namespace glassine::recovery;
using namespace glassine::test;

namespace {

void require(bool holds) {
    if (!holds) std::abort();
}

void put_check_values_right(std::string& file) {
    auto* bytes = reinterpret_cast<std::byte*>(file.data());
    const std::string_view magic(packet_magic.data(), packet_magic.size());
    for (auto at = file.find(magic); at != std::string::npos && file.size() - at >= header_size;
         at = file.find(magic, at + 1)) {
        const auto length = get_number<std::uint32_t>(bytes + at + 16);
        if (length <= file.size() - at - header_size) {
            put_number<Check>(bytes + at + 72, check_of({bytes + at + header_size, length}));
        }
        put_number<Check>(bytes + at + 80, check_of({bytes + at, 80}));
    }
}

/// The bag that the seeds were made for, with damage in it.
Contents damaged_bag() {
    Contents bag;
    for (int i = 0; i < 4; ++i)
        bag["data/" + std::to_string(i)] = std::string(100 + 50 * i, 'a' + i);
    bag["bagit.txt"] = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
    bag["data/1"][70] = 'x';
    bag["data/2"].resize(100);
    bag["bagit.txt"][3] = '?';
    bag.erase("data/0");
    return bag;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size == 0) return 0;
    std::string file(reinterpret_cast<const char*>(data + 1), size - 1);
    if ((data[0] & 2) != 0) put_check_values_right(file);
    MemoryFiles files;
    files.copies["bag"] = damaged_bag();
    const auto group = (data[0] & 1) != 0 ? Group::tags : Group::payload;
    files.copies["bag"][file_name(group, 0)] = file;

    RecoverySet set(files, "bag");
    set.inspect_all();
    for (const auto& window : set.windows()) {
        std::uint64_t blocks = 0;
        for (const auto& extent : window.window.extents) {
            require(is_safe_name(extent.name));
            blocks += extent.blocks;
        }
        require(blocks == window.window.geometry.blocks);
        require(8 * blocks <= file.size());
    }
    Rebuilder rebuilder(files, "bag", set, locate(files, "bag", set));
    KeepingReceiver receiver;
    rebuilder.run(receiver);
    for (const auto& [name, healed] : receiver.told)
        require(receiver.healed.at(name).size() == healed.size);
    return 0;
}
