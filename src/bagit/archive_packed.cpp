#include "archive_load.h"
#include "glassine/bagit/bag_info.h"
#include "glassine/bagit/layout.h"
#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "glassine/flow/digest_sink.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

/// Archives that can only be read from their beginning.
namespace glassine::bagit {
namespace {

using enum FindingKind;
using digest::Algorithm;
using Ordinal = ArchiveMembers::Ordinal;

constexpr std::uint64_t usual_ratio = 100;
constexpr std::uint64_t largest_ratio = 1000;

/// The name below the top-level folder, as far as that can be told before the archive's end.
std::string_view in_bag(std::string_view name) {
    if (in_payload(name)) return name;
    const std::size_t slash = name.find('/');
    return slash == std::string_view::npos ? name : name.substr(slash + 1);
}

/// Which algorithms the payload may need. Tag files are hashed in all of them: they are small, and
/// the manifests that tell come with them.
class Guess {
  public:
    void manifest_met(std::string_view name) {
        const auto manifest = manifest_name(name);
        if (!decided_ && manifest && manifest->computable) met_ |= bit(*manifest->computable);
    }
    /// From the first payload file on nothing changes: what has been met by then, or everything.
    void payload_met() {
        if (!decided_.exchange(true) && met_ == 0) met_ = 0xFF;
    }
    bool wants(std::string_view name, Algorithm algorithm) const {
        return !in_payload(name) || (met_ & bit(algorithm)) != 0;
    }

  private:
    static unsigned bit(Algorithm algorithm) { return 1u << static_cast<unsigned>(algorithm); }
    std::atomic<unsigned> met_{0};
    std::atomic<bool> decided_{false};
};

class GuessSink : public flow::Sink {
  public:
    GuessSink(const Guess& guess, Algorithm algorithm, DigestStore& store)
        : guess_(guess),
          algorithm_(algorithm),
          digests_({algorithm}, [algorithm, &store](const flow::Item& item, const auto& values) {
              store.keep(algorithm, static_cast<Ordinal>(item.id), values[0]);
          }) {}
    std::unique_ptr<flow::Stream> open(const flow::Item& item) override {
        return guess_.wants(item.name, algorithm_) ? digests_.open(item) : nullptr;
    }

  private:
    const Guess& guess_;
    Algorithm algorithm_;
    flow::DigestSink digests_;
};

class PackedLoad {
  public:
    PackedLoad(ArchiveReader& reader, LoadedArchive& into, const flow::Options& flow,
               const ArchiveLimits& limits)
        : reader_(reader), into_(into), flow_(flow), limits_(limits) {}

    void run(bool digests, std::span<flow::Sink* const> further, std::string_view file_name) {
        std::vector<std::unique_ptr<GuessSink>> sinks;
        std::vector<flow::Sink*> pointers(further.begin(), further.end());
        if (digests)
            for (const Algorithm algorithm : digest::all_algorithms)
                sinks.push_back(std::make_unique<GuessSink>(guess_, algorithm, into_.digests));
        for (const auto& sink : sinks)
            pointers.push_back(sink.get());
        ArchivePass::Wishes wishes;
        wishes.begin = [this](Ordinal ordinal, const RawMember& raw) {
            return begin(ordinal, raw);
        };
        wishes.piece = [this](std::span<const std::byte> bytes) { keep(bytes); };
        wishes.end = [this](const flow::Item& item, const flow::Outcome& o) { end(item, o); };
        wishes.limit = [this](std::uint64_t unpacked) { return limit(unpacked); };
        ArchivePass::Result result = ArchivePass(reader_, pointers, flow_).run(wishes);
        into_.reading = result.flow;
        into_.reading.bytes = reader_.bytes_read();
        into_.stopped = result.flow.cancelled;
        finish(result, file_name);
    }

  private:
    std::optional<flow::Item> begin(Ordinal ordinal, const RawMember& raw) {
        if (!members_.add(raw, ArchiveContents::packed)) return std::nullopt;
        if (raw.type != io::FileType::regular || raw.hard_link) return std::nullopt;
        const std::string_view name = members_.name(ordinal);
        if (in_payload(in_bag(name))) guess_.payload_met();
        keeping_ = nullptr;
        if (const auto tag = standard_tag_file(name)) {
            guess_.manifest_met(*tag);
            keeping_ = &into_.tags[ordinal];
        }
        flow::Item item;
        item.id = ordinal;
        item.name = std::string(in_bag(name));
        item.size = raw.size;
        item.modified = raw.modified;
        return item;
    }

    void keep(std::span<const std::byte> bytes) {
        if (keeping_ == nullptr || tags_over_) return;
        kept_bytes_ += bytes.size();
        tags_over_ = kept_bytes_ > limits_.tag_bytes;
        if (!tags_over_)
            keeping_->append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
    }

    void end(const flow::Item& item, const flow::Outcome& outcome) {
        const auto ordinal = static_cast<Ordinal>(item.id);
        members_.set_size(ordinal, std::max(outcome.bytes, item.size));
        if (outcome.status == flow::Status::whole) members_.set_size(ordinal, outcome.bytes);
        if (outcome.status != flow::Status::whole) into_.bad.emplace(ordinal, outcome);
        if (keeping_ != nullptr && item.name == bag_info_file) read_oxum(*keeping_);
        if (tags_over_ && keeping_ != nullptr) into_.tags.erase(ordinal);
        keeping_ = nullptr;
    }

    void read_oxum(std::string_view info_text) {
        BagInfo info;
        BagInfoParser parser(info, std::string(bag_info_file), encoding_named("UTF-8"),
                             rules_for("1.0"), [](const Finding&) {});
        parser.feed(std::as_bytes(std::span(info_text.data(), info_text.size())));
        parser.finish();
        if (const auto value = info.value("Payload-Oxum"))
            if (const auto oxum = parse_oxum(*value)) declared_ = oxum->bytes;
    }

    std::optional<Finding> limit(std::uint64_t unpacked) const {
        if (auto over = members_limit(members_, limits_)) return over;
        if (tags_over_)
            return found(archive_limit, "",
                         fmt::format("its manifests and other lists are larger than {}; the rest "
                                     "was not read",
                                     text::human_bytes(limits_.tag_bytes)));
        const std::uint64_t size = reader_.archive_size();
        const std::uint64_t usual = std::max(limits_.always, size * usual_ratio);
        const std::uint64_t most = std::max(limits_.always, size * largest_ratio);
        const bool told = declared_.has_value();
        const std::uint64_t spare = told ? *declared_ / 8 + limits_.always / 4 : 0;
        // A declaration of nearly 2^64 bytes is as good as none.
        const std::uint64_t wanted = !told               ? usual
                                     : *declared_ > most ? most
                                                         : std::min(most, *declared_ + spare);
        if (unpacked <= wanted) return std::nullopt;
        return found(archive_limit, "",
                     told ? fmt::format("it unpacks to more than {}, though its Payload-Oxum says "
                                        "{}; the rest was not read",
                                        text::human_bytes(unpacked), text::human_bytes(*declared_))
                          : fmt::format("it has {} and unpacks to more than {}; the rest was not "
                                        "read",
                                        text::human_bytes(size), text::human_bytes(unpacked)));
    }

    void finish(const ArchivePass::Result& result, std::string_view file_name) {
        if (result.limit) members_.report(*result.limit);
        if (reader_.fault())
            members_.report(found(reader_.medium_failed() ? unreadable : archive_malformed, "",
                                  fault_words(members_, *reader_.fault())));
        const bool any = members_.size() > 0;
        ArchiveMembers::Sorted sorted = members_.sort(file_name);
        into_.contents = std::move(sorted.contents);
        into_.member_of = std::move(sorted.member_of);
        into_.contents.media_type = reader_.media_type();
        into_.contents.plain = false;
        into_.contents.readable = any || !reader_.fault();
        into_.contents.torn = result.limit || reader_.fault();
    }

    ArchiveReader& reader_;
    LoadedArchive& into_;
    const flow::Options& flow_;
    const ArchiveLimits& limits_;
    ArchiveMembers members_;
    Guess guess_;
    std::string* keeping_ = nullptr;
    std::uint64_t kept_bytes_ = 0;
    bool tags_over_ = false;
    std::optional<std::uint64_t> declared_;
};

}  // namespace

void DigestStore::keep(Algorithm algorithm, Ordinal member, const digest::Value& value) {
    const std::lock_guard lock(mutex_);
    Column& column = columns_.try_emplace(algorithm, digest::size(algorithm)).first->second;
    if (column.row_of.size() <= member) column.row_of.resize(member + 1);
    std::ranges::copy(value.bytes(), column.rows.push_back());
    column.row_of[member] = static_cast<std::uint32_t>(column.rows.size());
}

std::optional<digest::Value> DigestStore::find(Algorithm algorithm, Ordinal member) const {
    const auto column = columns_.find(algorithm);
    if (column == columns_.end() || member >= column->second.row_of.size() ||
        column->second.row_of[member] == 0)
        return std::nullopt;
    return digest::Value(column->second.rows[column->second.row_of[member] - 1]);
}

std::unique_ptr<LoadedArchive> load_packed(io::FileSystem& files, const io::Path& path,
                                           bool digests, std::span<flow::Sink* const> further,
                                           const flow::Options& flow, const ArchiveLimits& limits) {
    ArchiveReader reader(files, path, flow.cache, ArchiveReader::whole_blocks);
    auto loaded = std::make_unique<LoadedArchive>();
    PackedLoad(reader, *loaded, flow, limits).run(digests, further, path.filename().string());
    return loaded;
}

}  // namespace glassine::bagit
