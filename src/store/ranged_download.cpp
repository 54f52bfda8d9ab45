#include "store/ranged_download.h"

#include "store/object_headers.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::store {
namespace {

constexpr const char* fetching = "fetch the object";

/// Where the body of an answer begins in the object (RFC 9110 §14.4).
std::uint64_t first_byte(const HttpAnswer& answer) {
    const auto range = answer.headers.find("content-range");
    if (answer.status != 206 || range == answer.headers.end()) return 0;
    constexpr std::string_view unit = "bytes ";
    const std::string_view text = range->second;
    if (!text.starts_with(unit)) return 0;
    return number_of(text.substr(unit.size(), text.find('-') - unit.size()), 0);
}

class RangedDownload : public Download {
  public:
    RangedDownload(Requests& requests, Address address, std::uint64_t offset, std::uint64_t length,
                   std::string etag)
        : requests_(requests),
          address_(std::move(address)),
          etag_(std::move(etag)),
          at_(offset),
          end_(offset + length) {
        connect();
    }

    std::size_t read(std::span<std::byte> into) override {
        std::size_t got = 0;
        while (got < into.size() && at_ < end_) {
            const auto wanted =
                static_cast<std::size_t>(std::min<std::uint64_t>(into.size() - got, end_ - at_));
            const std::size_t n = incoming_->read(into.subspan(got, wanted));
            got += n;
            at_ += n;
            if (n > 0) attempt_ = 0;
            if (n < wanted) take_up();
        }
        // The line is free for others as soon as its bytes are here.
        if (at_ >= end_) finish();
        return got;
    }

    const ObjectInfo& info() const override { return info_; }

  private:
    void connect() {
        std::vector<std::string> headers{fmt::format("Range: bytes={}-{}", at_, end_ - 1)};
        if (!etag_.empty()) headers.push_back(fmt::format("If-Match: \"{}\"", etag_));
        try {
            incoming_ = requests_.open({"GET", address_, {}, headers, {}, fetching});
        } catch (const Error& error) {
            if (error.cause() != Cause::exists) throw;
            throw Error(Cause::changed, fetching, address_.text(),
                        "the object was exchanged while it was read",
                        "run the command again when nobody writes there");
        }
        info_ = object_info(address_.key, incoming_->answer());
        if (first_byte(incoming_->answer()) != at_)
            throw Error(Cause::not_supported, fetching, address_.text(),
                        "the store gives other bytes of the object than it is asked for",
                        "fetch it by other means");
        end_ = std::min(end_, info_.size);
        if (etag_.empty()) etag_ = info_.etag;
    }

    /// The body broke off or came short: what is still wanted is asked for anew.
    void take_up() {
        HttpAnswer answer = incoming_->answer();
        if (answer.failure.empty()) {
            answer.failure = "the answer was shorter than it said";
            answer.may_pass = true;
        }
        if (!requests_.wait_for_next(++attempt_, answer))
            throw error_for(answer, fetching, address_.text(), requests_.settings());
        incoming_.reset();
        connect();
    }

    void finish() {
        if (!incoming_) return;
        std::byte nothing{};
        incoming_->read({&nothing, 1});  // lets the transfer come to its end
        incoming_.reset();
    }

    Requests& requests_;
    Address address_;
    std::string etag_;
    std::uint64_t at_;
    std::uint64_t end_;
    unsigned attempt_ = 0;
    std::unique_ptr<Http::Incoming> incoming_;
    ObjectInfo info_;
};

}  // namespace

std::unique_ptr<Download> ranged_download(Requests& requests, const Address& address,
                                          std::uint64_t offset, std::uint64_t length,
                                          const std::string& etag) {
    return std::make_unique<RangedDownload>(requests, address, offset, length, etag);
}

}  // namespace glassine::store
