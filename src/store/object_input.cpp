#include "store/object_input.h"

#include <algorithm>
#include <functional>
#include <utility>

namespace glassine::store {
namespace {

/// Most that is asked for at once of what is read in order: a request's delay is then small beside
/// the time of its bytes, and a file that is left in the middle costs no more than this.
constexpr std::uint64_t largest_window = 64u << 20;
/// What comes with the first answer where only its headers were wanted, but the rest will be.
constexpr std::uint64_t first_window = 512u << 10;

class ObjectInput : public io::InputFile {
  public:
    ObjectInput(Client& client, Address address, std::optional<ObjectInfo> known)
        : client_(client), address_(std::move(address)), info_(std::move(known)) {}

    std::size_t read(std::uint64_t offset, std::span<std::byte> into) override try {
        const std::lock_guard lock(mutex_);
        const std::uint64_t size = known().size;
        if (offset >= size || into.empty()) return 0;
        const auto wanted =
            static_cast<std::size_t>(std::min<std::uint64_t>(into.size(), size - offset));
        std::size_t got = 0;
        while (got < wanted) {
            if (!download_ || at_ != offset + got || at_ == end_) ask(offset + got, wanted - got);
            const auto n =
                static_cast<std::size_t>(std::min<std::uint64_t>(wanted - got, end_ - at_));
            const std::size_t arrived = download_->read(into.subspan(got, n));
            if (arrived == 0) break;
            got += arrived;
            at_ += arrived;
        }
        return got;
    } catch (const Error& error) {
        // The client has tried again long enough: reading around the place, as on a medium with bad
        // sectors, would only ask thousands of times more.
        if (error.cause() != Cause::unreadable) throw;
        throw Error(Cause::other, error.tried(), error.path(), error.why(), error.next());
    }

    io::FileInfo info() override {
        const std::lock_guard lock(mutex_);
        return file_info(address_, known());
    }
    std::optional<Timestamp> file_time() override {
        const std::lock_guard lock(mutex_);
        if (known().file_time) return known().file_time;
        if (!download_ && known().size > 0) ask(0, std::min(known().size, first_window));
        return download_ ? download_->info().file_time : looked_up().file_time;
    }
    io::Bypass bypass() const override { return io::Bypass::fetched; }

  private:
    const ObjectInfo& known() { return info_ ? *info_ : looked_up(); }
    const ObjectInfo& looked_up() {
        info_ = client_.find(address_);
        if (!info_)
            throw Error(Cause::not_found, "read", address_.text(), "there is no such object",
                        "look what is there with `glassine inspect` or `glassine audit`");
        return *info_;
    }

    /// What goes on where the last request ended gets twice as much; a leap gets just what is
    /// wanted.
    void ask(std::uint64_t offset, std::uint64_t wanted) {
        const bool goes_on = download_ && at_ == offset;
        window_ = goes_on ? std::min(std::max(window_ * 2, wanted), largest_window) : wanted;
        const std::uint64_t length = std::min(window_, known().size - offset);
        // One connection at a time: the one before must be free when the next is asked for.
        download_.reset();
        download_ = client_.get(address_, offset, length, known().etag);
        at_ = offset;
        end_ = offset + length;
    }

    Client& client_;
    Address address_;
    std::mutex mutex_;
    std::optional<ObjectInfo> info_;
    std::unique_ptr<Download> download_;
    std::uint64_t at_ = 0;      ///< where `download_` stands
    std::uint64_t end_ = 0;     ///< where it ends
    std::uint64_t window_ = 0;  ///< bytes asked for last
};

}  // namespace

std::unique_ptr<io::InputFile> open_object(Client& client, Address address,
                                           std::optional<ObjectInfo> known) {
    return std::make_unique<ObjectInput>(client, std::move(address), std::move(known));
}

std::uint64_t name_number(std::string_view name) {
    return std::hash<std::string_view>{}(name) | 1;
}

io::FileInfo file_info(const Address& address, const ObjectInfo& info) {
    io::FileInfo file;
    file.type = io::FileType::regular;
    file.size = info.size;
    file.modified = info.modified;
    file.device = name_number("s3://" + address.bucket);
    file.inode = name_number(address.text());
    return file;
}

}  // namespace glassine::store
