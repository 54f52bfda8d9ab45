#include "photo/deflate_check.h"

#include <algorithm>
#include <array>
#include <limits>

#include <zlib.h>

namespace glassine::photo {

namespace {

class Inflating {
  public:
    Inflating() { ready_ = inflateInit(&stream_) == Z_OK; }
    ~Inflating() {
        if (ready_) inflateEnd(&stream_);
    }
    Inflating(const Inflating&) = delete;
    Inflating& operator=(const Inflating&) = delete;

    bool ready() const { return ready_; }

    /// Z_OK while there is more to come.
    int step(std::span<const std::byte>& left) {
        const auto given = std::min<std::size_t>(left.size(), std::numeric_limits<uInt>::max());
        stream_.next_in = reinterpret_cast<Bytef*>(const_cast<std::byte*>(left.data()));
        stream_.avail_in = static_cast<uInt>(given);
        stream_.next_out = out_.data();
        stream_.avail_out = static_cast<uInt>(out_.size());
        const int status = inflate(&stream_, Z_NO_FLUSH);
        left = left.subspan(given - stream_.avail_in);
        return status;
    }

  private:
    z_stream stream_{};
    std::array<Bytef, 32768> out_;
    bool ready_ = false;
};

}  // namespace

bool contradicts_itself(std::span<const std::byte> zlib_stream) {
    Inflating inflating;
    if (!inflating.ready()) return false;
    int status = Z_OK;
    while (status == Z_OK)
        status = inflating.step(zlib_stream);
    return status == Z_DATA_ERROR;
}

}  // namespace glassine::photo
