#include "store/ranged_download.h"

#include "store/object_headers.h"

#include <algorithm>
#include <limits>
#include <optional>
#include <utility>

#include <fmt/format.h>

namespace glassine::store {
namespace {

constexpr const char* fetching = "fetch the object";

/// "bytes 10-19/1000" as numbers (RFC 9110 §14.4).
struct ContentRange {
    std::uint64_t first = 0;
    std::uint64_t size = 0;  ///< of the whole object
};
std::optional<ContentRange> content_range(const HttpAnswer& answer) {
    const auto header = answer.headers.find("content-range");
    if (header == answer.headers.end()) return std::nullopt;
    const std::string_view text = header->second;
    constexpr std::string_view unit = "bytes ";
    const std::size_t dash = text.find('-');
    const std::size_t slash = text.rfind('/');
    if (!text.starts_with(unit) || dash == text.npos || slash == text.npos) return std::nullopt;
    constexpr std::uint64_t none = std::numeric_limits<std::uint64_t>::max();
    const ContentRange range{number_of(text.substr(unit.size(), dash - unit.size()), none),
                             number_of(text.substr(slash + 1), none)};
    if (range.first == none || range.size == none) return std::nullopt;
    return range;
}

class RangedDownload : public Download {
  public:
    RangedDownload(Requests& requests, Address address, std::uint64_t offset, std::uint64_t length,
                   std::string etag)
        : requests_(requests),
          address_(std::move(address)),
          etag_(std::move(etag)),
          at_(offset),
          end_(offset + std::min(length, std::numeric_limits<std::uint64_t>::max() - offset)) {
        if (length == 0)
            only_look();
        else
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
    Requests::What what(const char* method, std::vector<std::string> headers) const {
        if (!etag_.empty()) headers.push_back(fmt::format("If-Match: \"{}\"", etag_));
        return {method, address_, {}, std::move(headers), nullptr, fetching};
    }

    void connect() {
        // Far ends are left open: not every store reads numbers of that length.
        const std::string last = end_ > largest_object ? "" : std::to_string(end_ - 1);
        incoming_ = requests_.open(what("GET", {fmt::format("Range: bytes={}-{}", at_, last)}),
                                   {"InvalidRange", "PreconditionFailed"});
        const HttpAnswer& answer = incoming_->answer();
        if (answer.status == 412) throw exchanged();
        if (answer.status == 416) {
            incoming_.reset();
            return only_look();
        }
        check_place(answer);
        note(object_info(address_.key, answer));
    }

    /// The whole object in place of a range is as good only from its beginning.
    void check_place(const HttpAnswer& answer) const {
        const auto range = content_range(answer);
        if (answer.status == 206 ? range && range->first == at_
                                 : at_ == 0 && answer.headers.contains("content-length"))
            return;
        throw Error(Cause::not_supported, fetching, address_.text(),
                    fmt::format("the store gives other bytes than were asked for ({})",
                                requests_.settings().endpoint),
                    "ask the store's keeper: it must know ranges of bytes");
    }

    /// What is to be known of an object of which there is nothing to be read.
    void only_look() {
        const HttpAnswer answer = requests_.run_accepting(what("HEAD", {}), {"PreconditionFailed"});
        if (answer.status == 412) throw exchanged();
        note(object_info(address_.key, answer));
        end_ = at_;
    }

    void note(ObjectInfo info) {
        if (!etag_.empty() && !info.etag.empty() && info.etag != etag_) throw exchanged();
        info_ = std::move(info);
        if (etag_.empty()) etag_ = info_.etag;
        end_ = std::min(end_, info_.size);
    }

    Error exchanged() const {
        return {Cause::changed, fetching, address_.text(),
                "the object was exchanged while it was read",
                "run the command again when nobody writes there"};
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
