#include "recovery/packet.h"

#include "recovery/bytes.h"
#include "recovery/scanner.h"
#include "recovery/small_bag.h"
#include "support/temp_folder.h"

#include <random>

#include <catch2/catch.hpp>

using namespace glassine;
using namespace glassine::recovery;
using namespace glassine::test;

namespace {

Header good_header() {
    Header header;
    header.identity = {.window_id = 0x0123456789abcdef,
                       .group = Group::tags,
                       .number = 2,
                       .windows = 5,
                       .percent = 725,
                       .geometry = {.block_size = 64, .blocks = 100, .words = 7, .k = 15, .m = 3},
                       .table_bytes = 130,
                       .extents = 4};
    header.kind = PacketKind::repair;
    header.index = 20;
    header.length = 64;
    header.body_check = 42;
    return header;
}

std::optional<Header> read_back(std::array<std::byte, header_size> bytes) {
    // A writer with a mistake makes good check values too.
    put_number<Check>(&bytes[80], check_of(std::span(bytes).first(80)));
    return decode_header(bytes);
}

Identity identity_for(const std::vector<Extent>& extents, std::uint32_t blocks) {
    Identity identity;
    identity.geometry.block_size = 64;
    identity.geometry.blocks = blocks;
    identity.extents = static_cast<std::uint32_t>(extents.size());
    identity.table_bytes = static_cast<std::uint32_t>(table_size(extents));
    return identity;
}

bool table_is_read(const std::vector<Extent>& extents, std::uint32_t blocks) {
    return decode_table(encode_table(extents), identity_for(extents, blocks)).has_value();
}

}  // namespace

TEST_CASE("a header reads back as it was written") {
    const auto bytes = encode_header(good_header());
    const auto header = decode_header(bytes);
    REQUIRE(header);
    CHECK(header->identity == good_header().identity);
    CHECK(header->kind == PacketKind::repair);
    CHECK(header->index == 20);
    CHECK(header->length == 64);
    CHECK(header->body_check == 42);
}

TEST_CASE("a header with any bit flipped is none") {
    const auto bytes = encode_header(good_header());
    for (std::size_t bit = 0; bit < 8 * bytes.size(); ++bit) {
        auto wrong = bytes;
        wrong[bit / 8] ^= static_cast<std::byte>(1 << (bit % 8));
        CHECK_FALSE(decode_header(wrong));
    }
}

TEST_CASE("headers that no window can have are refused even with good check values") {
    const auto good = encode_header(good_header());
    REQUIRE(read_back(good));
    const auto with16 = [&](std::size_t at, std::uint16_t value) {
        auto bytes = good;
        put_number(&bytes[at], value);
        return read_back(bytes);
    };
    const auto with32 = [&](std::size_t at, std::uint32_t value) {
        auto bytes = good;
        put_number(&bytes[at], value);
        return read_back(bytes);
    };
    CHECK_FALSE(with16(8, 2));   // version
    CHECK_FALSE(with16(10, 0));  // kind
    CHECK_FALSE(with16(10, 4));
    CHECK_FALSE(with32(12, 21));  // index: 7 words of 3 repair blocks
    CHECK_FALSE(with32(16, 63));  // length
    CHECK_FALSE(with32(20, 96));  // block size
    CHECK_FALSE(with32(20, 32));
    CHECK_FALSE(with16(32, 2));   // group
    CHECK_FALSE(with16(34, 14));  // k
    CHECK_FALSE(with16(34, 253));
    CHECK_FALSE(with16(36, 0));  // m
    CHECK_FALSE(with16(36, 241));
    CHECK_FALSE(with32(40, 5));  // number
    CHECK_FALSE(with32(48, 0));  // blocks
    CHECK_FALSE(with32(48, 106));
    CHECK_FALSE(with32(52, 0));  // words
    CHECK_FALSE(with32(52, 101));
    CHECK_FALSE(with16(38, 1));
    CHECK_FALSE(with32(68, 1));
    CHECK_FALSE(with32(60, 0));  // extents
}

TEST_CASE("a file table reads back, and a broken one does not") {
    const std::vector<Extent> extents{
        {"data/a", 1000, 640, 0, 6}, {"data/b", 0, 0, 6, 0}, {"data/c", 129, 0, 6, 2}};
    const auto identity = identity_for(extents, 8);
    const std::string table = encode_table(extents);
    REQUIRE(decode_table(table, identity) == extents);
    for (std::size_t length = 0; length < table.size(); ++length) {
        CHECK_FALSE(decode_table(std::string_view(table).substr(0, length), identity));
    }
    CHECK_FALSE(decode_table(table + std::string(22, '\0'), identity));
    auto fewer = identity;
    --fewer.extents;
    CHECK_FALSE(decode_table(table, fewer));
    CHECK(table_is_read({{"a", 128, 0, 0, 2}}, 2));
    CHECK_FALSE(table_is_read({{"a", 128, 0, 0, 2}}, 3));    // blocks that no file has
    CHECK_FALSE(table_is_read({{"a", 128, 0, 0, 3}}, 3));    // a block behind the file's end
    CHECK_FALSE(table_is_read({{"a", 128, 1, 0, 1}}, 1));    // offset inside a block
    CHECK_FALSE(table_is_read({{"a", 128, 128, 0, 0}}, 0));  // no block, but not empty
    CHECK_FALSE(table_is_read({{"b", 1, 0, 0, 1}, {"a", 1, 0, 1, 1}}, 2));  // out of order
    CHECK_FALSE(table_is_read({{"a", 1, 0, 0, 1}, {"a", 1, 0, 1, 1}}, 2));  // twice
    CHECK_FALSE(
        table_is_read({{"a", 200, 0, 0, 1}, {"b", 1, 0, 1, 1}}, 2));  // cut short, and not the last
    CHECK_FALSE(table_is_read({{"a", 1, 0, 0, 1}, {"b", 200, 64, 1, 3}},
                              4));  // begun before, and not the first
    CHECK_FALSE(
        table_is_read({{"a", std::uint64_t{1} << 63, 0, 0, 1}}, 1));  // larger than any file
    for (const char* name : {"", "/etc/passwd", "../a", "data/../../a", "a//b", "a/", "./a",
                             "recovery/tags-0001.recovery"}) {
        CHECK_FALSE(table_is_read({{name, 1, 0, 0, 1}}, 1));
    }
    CHECK_FALSE(table_is_read({{std::string("a\0b", 3), 1, 0, 0, 1}}, 1));
    CHECK(table_is_read({{"data/with space & ümlaut\n..", 1, 0, 0, 1}}, 1));
}

TEST_CASE("packets are found again behind anything") {
    const auto packet = [](std::uint32_t index) {
        Header header = good_header();
        header.index = index;
        const std::string body = noise(64, index);
        header.body_check = check_of(bytes_of(body));
        const auto head = encode_header(header);
        return std::string(reinterpret_cast<const char*>(head.data()), head.size()) + body;
    };
    const auto found_in = [](const std::string& bytes) {
        std::vector<std::uint32_t> good;
        scan_packets(bytes_of(bytes), [&](const Packet& p) {
            if (p.body_good) good.push_back(p.header.index);
            return true;
        });
        return good;
    };
    using Indices = std::vector<std::uint32_t>;
    const std::string all = packet(0) + packet(1) + packet(2);
    const std::size_t size = packet(0).size();
    CHECK(found_in("") == Indices{});
    CHECK(found_in(all) == Indices{0, 1, 2});
    CHECK(found_in(noise(1000, 1) + packet(0) + "GlassRec" + noise(33, 2) + packet(1) +
                   "GlassRe") == Indices{0, 1});
    for (std::size_t at = 0; at < 3 * size; at += 3) {
        std::string flipped = all, missing = all, more = all, zeroed = all;
        flipped[at] = static_cast<char>(flipped[at] ^ 0x10);
        missing.erase(at, 7);
        more.insert(at, "GlassRec inserted");
        zeroed.replace(at, 5, 5, '\0');
        Indices others{0, 1, 2};
        others.erase(others.begin() + static_cast<std::ptrdiff_t>(at / size));
        CHECK(found_in(flipped) == others);
        for (const auto& wrong : {missing, more, zeroed}) {
            const auto left = found_in(wrong);
            CHECK(left.size() >= 1);
            CHECK(std::is_sorted(left.begin(), left.end()));
        }
        CHECK(found_in(all.substr(0, at)).size() == at / size);
    }
}
