#include "recovery/scanner.h"

#include <algorithm>
#include <cstring>

namespace glassine::recovery {

namespace {

constexpr std::size_t piece_size = 1u << 20;
constexpr std::size_t sector_size = 4096;

/// A piece of the file that slides along it.
class SlidingView {
  public:
    explicit SlidingView(io::InputFile& file) : file_(file), size_(file.info().size) {}

    std::uint64_t size() const { return size_; }

    /// `length` bytes from `offset`, fewer only at the end of the file. Offsets never go back
    /// behind the last one.
    std::span<const std::byte> view(std::uint64_t offset, std::size_t length) {
        length = static_cast<std::size_t>(
            std::min<std::uint64_t>(length, size_ - std::min(offset, size_)));
        if (offset + length > start_ + buffer_.size()) refill(offset, length);
        return std::span(buffer_).subspan(static_cast<std::size_t>(offset - start_), length);
    }

  private:
    void refill(std::uint64_t offset, std::size_t length) {
        const std::uint64_t end = start_ + buffer_.size();
        const std::size_t kept = offset < end ? static_cast<std::size_t>(end - offset) : 0;
        buffer_.erase(buffer_.begin(), buffer_.end() - static_cast<std::ptrdiff_t>(kept));
        start_ = offset;
        const std::uint64_t left = size_ - offset;
        buffer_.resize(
            static_cast<std::size_t>(std::min<std::uint64_t>(left, length + piece_size)));
        read(offset + kept, std::span(buffer_).subspan(kept));
    }

    void read(std::uint64_t offset, std::span<std::byte> into) {
        if (try_read(offset, into)) return;
        for (std::size_t at = 0; at < into.size(); at += sector_size) {
            const auto sector = into.subspan(at, std::min(sector_size, into.size() - at));
            if (!try_read(offset + at, sector))
                std::fill(sector.begin(), sector.end(), std::byte{0});
        }
    }

    bool try_read(std::uint64_t offset, std::span<std::byte> into) {
        try {
            const std::size_t got = file_.read(offset, into);
            std::fill(into.begin() + static_cast<std::ptrdiff_t>(got), into.end(), std::byte{0});
            return true;
        } catch (const Error& error) {
            if (error.cause() != Cause::unreadable) throw;
            return false;
        }
    }

    io::InputFile& file_;
    std::uint64_t size_;
    std::uint64_t start_ = 0;
    std::vector<std::byte> buffer_;
};

/// Bytes in memory behind the same two calls.
class MemoryView {
  public:
    explicit MemoryView(std::span<const std::byte> bytes) : bytes_(bytes) {}
    std::uint64_t size() const { return bytes_.size(); }
    std::span<const std::byte> view(std::uint64_t offset, std::size_t length) {
        const auto rest = bytes_.subspan(
            static_cast<std::size_t>(std::min<std::uint64_t>(offset, bytes_.size())));
        return rest.first(std::min(length, rest.size()));
    }

  private:
    std::span<const std::byte> bytes_;
};

/// The next place from `offset` on where a packet could begin; the end of the file when there is
/// none.
template <typename View>
std::uint64_t next_magic(View& view, std::uint64_t offset) {
    while (offset + packet_magic.size() <= view.size()) {
        const auto bytes = view.view(offset, piece_size);
        const auto* begin = reinterpret_cast<const char*>(bytes.data());
        const auto* end = begin + bytes.size();
        const auto* hit = std::search(begin, end, packet_magic.begin(), packet_magic.end());
        if (hit != end) return offset + static_cast<std::uint64_t>(hit - begin);
        offset += bytes.size() - (packet_magic.size() - 1);
    }
    return view.size();
}

template <typename View>
void scan(View view, const std::function<bool(const Packet&)>& visit) {
    std::uint64_t offset = 0;
    while (true) {
        offset = next_magic(view, offset);
        const std::span<const std::byte> bytes = view.view(offset, header_size);
        if (bytes.size() < header_size) return;
        const auto header = decode_header(bytes.first<header_size>());
        if (!header) {
            ++offset;
            continue;
        }
        Packet packet;
        packet.header = *header;
        packet.body_offset = offset + header_size;
        packet.file_size = view.size();
        const auto body = view.view(packet.body_offset, header->length);
        packet.body_good = body.size() == header->length && check_of(body) == header->body_check;
        if (packet.body_good) packet.body = body;
        if (!visit(packet)) return;
        // Inside a damaged body bytes may be missing, and the next packet stand earlier than it
        // should.
        offset = packet.body_offset + (packet.body_good ? header->length : 0);
    }
}

}  // namespace

void scan_packets(io::InputFile& file, const std::function<bool(const Packet&)>& visit) {
    scan(SlidingView(file), visit);
}

void scan_packets(std::span<const std::byte> bytes,
                  const std::function<bool(const Packet&)>& visit) {
    scan(MemoryView(bytes), visit);
}

}  // namespace glassine::recovery
