#include "recovery/file_writer.h"

#include "recovery/bytes.h"
#include "recovery/packet.h"

#include <cstring>

namespace glassine::recovery {

namespace {

/// Hands one file to several sinks in large pieces.
class Output {
  public:
    Output(std::span<flow::Sink* const> sinks, const flow::Item& item) {
        buffer_.reserve(piece_size);
        for (auto* sink : sinks) {
            if (auto stream = sink->open(item)) streams_.push_back(std::move(stream));
        }
    }

    void write(std::span<const std::byte> bytes) {
        if (buffer_.size() + bytes.size() > piece_size) pass_on();
        buffer_.insert(buffer_.end(), bytes.begin(), bytes.end());
    }

    std::uint64_t finish() {
        pass_on();
        flow::Outcome outcome;
        outcome.bytes = written_;
        for (auto& stream : streams_)
            stream->finish(outcome);
        return written_;
    }

  private:
    static constexpr std::size_t piece_size = 1u << 20;

    void pass_on() {
        if (buffer_.empty()) return;
        for (auto& stream : streams_)
            stream->block(written_, buffer_);
        written_ += buffer_.size();
        buffer_.clear();
    }

    std::vector<std::unique_ptr<flow::Stream>> streams_;
    std::vector<std::byte> buffer_;
    std::uint64_t written_ = 0;
};

void write_packet(Output& output, Header header, std::span<const std::byte> body) {
    header.length = static_cast<std::uint32_t>(body.size());
    header.body_check = check_of(body);
    output.write(encode_header(header));
    output.write(body);
}

void write_index(Output& output, const Identity& identity, std::span<const std::byte> table,
                 std::span<const std::byte> checks) {
    for (const auto kind : {PacketKind::table, PacketKind::checks}) {
        const auto bytes = kind == PacketKind::table ? table : checks;
        for (std::uint32_t i = 0; i < identity.packets(kind); ++i) {
            const std::size_t from = std::size_t{i} * identity.geometry.block_size;
            write_packet(output, {.identity = identity, .kind = kind, .index = i},
                         bytes.subspan(from, identity.body_size(kind, i)));
        }
    }
}

}  // namespace

std::uint64_t write_recovery_file(
    const Window& window, std::span<const Check> checks,
    const std::function<std::span<const std::byte>(std::uint32_t)>& repair_block,
    std::span<flow::Sink* const> outputs) {
    const std::string table_text = encode_table(window.extents);
    const auto table = std::as_bytes(std::span(table_text.data(), table_text.size()));
    std::vector<std::byte> check_bytes(8 * checks.size());
    for (std::size_t i = 0; i < checks.size(); ++i)
        put_number(&check_bytes[8 * i], checks[i]);

    const Identity identity{.window_id = check_more(check_of(table), check_bytes),
                            .group = window.group,
                            .number = window.number,
                            .windows = window.windows,
                            .percent = window.percent,
                            .geometry = window.geometry,
                            .table_bytes = static_cast<std::uint32_t>(table.size()),
                            .extents = static_cast<std::uint32_t>(window.extents.size())};
    flow::Item item;
    item.name = file_name(window.group, window.number);
    item.size = file_size(window);
    Output output(outputs, item);
    write_index(output, identity, table, check_bytes);
    for (std::uint32_t i = 0; i < window.geometry.repair_blocks(); ++i) {
        write_packet(output, {.identity = identity, .kind = PacketKind::repair, .index = i},
                     repair_block(i));
    }
    write_index(output, identity, table, check_bytes);
    return output.finish();
}

}  // namespace glassine::recovery
