#include "store/object_output.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::store {
namespace {

std::span<const std::byte> bytes_of(const std::string& text) {
    return std::as_bytes(std::span(text));
}

class NewObject : public io::OutputFile {
  public:
    NewObject(Client& client, Address address, std::function<void()> done)
        : client_(client), address_(std::move(address)), done_(std::move(done)) {}
    ~NewObject() override { take_back(); }
    NewObject(const NewObject&) = delete;
    NewObject& operator=(const NewObject&) = delete;

    void append(std::span<const std::byte> bytes) override {
        while (!bytes.empty()) {
            const std::size_t room = part_size() - waiting_.size();
            const auto now = bytes.first(std::min(room, bytes.size()));
            waiting_.append(reinterpret_cast<const char*>(now.data()), now.size());
            bytes = bytes.subspan(now.size());
            if (waiting_.size() == part_size()) send_part();
        }
    }
    void set_modified(Timestamp moment) override { options_.file_time = moment; }
    /// An object is on the store's media when the store has taken it as a whole.
    void sync() override {}
    void close() override {
        if (closed_) return;
        if (upload_.empty()) {
            client_.put(address_, bytes_of(waiting_), options_);
        } else {
            if (!waiting_.empty()) send_part();
            client_.complete_upload(address_, upload_, parts_);
        }
        upload_.clear();
        closed_ = true;
        done_();
    }

  private:
    /// Parts grow as the object does, since nobody says beforehand how large it will be: 10,000 of
    /// them, each one of a thousand a size larger than those before, hold any object.
    std::size_t part_size() const {
        return static_cast<std::size_t>(client_.settings().part_size) << (parts_.size() / 1000);
    }

    void send_part() {
        if (upload_.empty()) upload_ = client_.begin_upload(address_, options_);
        const auto number = static_cast<unsigned>(parts_.size() + 1);
        const std::string etag = client_.put_part(address_, upload_, number, bytes_of(waiting_));
        parts_.push_back({number, waiting_.size(), etag});
        waiting_.clear();
    }

    void take_back() noexcept {
        if (upload_.empty()) return;
        try {
            client_.abandon_upload(address_, upload_);
        } catch (const Error&) {
            // What stays is found and cleared by the next run at this place.
            return;
        }
    }

    Client& client_;
    Address address_;
    std::function<void()> done_;
    PutOptions options_;
    std::string waiting_;
    std::string upload_;
    std::vector<Part> parts_;
    bool closed_ = false;
};

class GrowingObject : public io::OutputFile {
  public:
    GrowingObject(Client& client, Address address, std::string content, std::function<void()> done)
        : client_(client),
          address_(std::move(address)),
          content_(std::move(content)),
          done_(std::move(done)) {}

    void append(std::span<const std::byte> bytes) override {
        content_.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
        sent_ = false;
    }
    void set_modified(Timestamp) override {}
    void sync() override {
        if (sent_) return;
        client_.put(address_, bytes_of(content_), {});
        sent_ = true;
        done_();
    }
    void close() override { sync(); }

  private:
    Client& client_;
    Address address_;
    std::string content_;
    std::function<void()> done_;
    bool sent_ = false;
};

}  // namespace

std::unique_ptr<io::OutputFile> create_object(Client& client, Address address,
                                              std::function<void()> done) {
    return std::make_unique<NewObject>(client, std::move(address), std::move(done));
}

std::unique_ptr<io::OutputFile> extend_object(Client& client, Address address, std::string content,
                                              std::function<void()> done) {
    return std::make_unique<GrowingObject>(client, std::move(address), std::move(content),
                                           std::move(done));
}

}  // namespace glassine::store
