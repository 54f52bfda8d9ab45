#include "journeys/bag_record.h"

#include "glassine/bagit/check.h"
#include "glassine/io/files.h"
#include "glassine/job/frames_csv.h"
#include "journeys/bag_source.h"

#include <algorithm>
#include <set>
#include <utility>

namespace glassine::journeys {
namespace {

using bagit::Bag;
using bagit::ManifestKind;
using Index = bagit::Listing::Index;

/// The manifest of that kind with the longest digests; null without one.
const bagit::Manifest* strongest(const Bag& bag, ManifestKind kind) {
    const bagit::Manifest* best = nullptr;
    std::size_t most = 0;
    for (const Bag::Matched& matched : bag.manifests()) {
        const bagit::ManifestName& name = matched.manifest.name();
        if (name.kind != kind || !name.computable) continue;
        const std::size_t size = digest::size(*name.computable);
        if (size > most) {
            most = size;
            best = &matched.manifest;
        }
    }
    return best;
}

/// The tag manifest's digest, or that of the manifest that stands in for it.
std::string seal_of(BagSource& source) {
    const Bag& bag = source.bag();
    if (bag.seal()) return *bag.seal();
    for (const ManifestKind kind : {ManifestKind::tag, ManifestKind::payload}) {
        const bagit::Manifest* manifest = strongest(bag, kind);
        if (manifest == nullptr) continue;
        const auto value = source.digest_of(manifest->file(), digest::Algorithm::sha512);
        if (value) return value->hex();
    }
    return "";
}

/// Whether the tag manifests vouch for the tag file as it was read just now. Without any tag
/// manifest the payload manifest stands for the seal itself.
bool is_vouched_for(const Bag& bag, std::string_view name) {
    const Index file = bag.listing().find(name);
    if (file == bagit::Listing::none) return false;
    bool vouched = strongest(bag, ManifestKind::tag) == nullptr;
    for (const Bag::FileDigest& read : bag.tag_digests()) {
        if (read.file != file) continue;
        const auto expected = bag.expected(file, read.algorithm);
        if (expected && *expected != read.value) return false;
        vouched = vouched || expected.has_value();
    }
    return vouched;
}

void take_info(const Bag& bag, shelf::BagRecord& record) {
    const bagit::BagInfo& info = bag.info();
    const auto day = [&](std::string_view label) -> std::optional<Date> {
        const auto value = info.value(label);
        return value ? parse_date(*value) : std::nullopt;
    };
    record.number = info.value("External-Identifier").value_or("");
    record.description = info.value("External-Description").value_or("");
    record.clients = info.values("Client-Name");
    record.shoot_date = day("Shoot-Date");
    record.sealed = day("Bagging-Date");
    record.promised_until = day("Promised-Until");
    record.keep_until = day("Keep-Until");
    record.payload_bytes = bag.listing().payload_bytes();
    record.payload_files = bag.listing().payload_files();
    // What was sealed counts, not what is left of it: bags of one name and size are one bag.
    const auto oxum = info.value("Payload-Oxum");
    if (const auto sealed = oxum ? bagit::parse_oxum(*oxum) : std::nullopt) {
        record.payload_bytes = sealed->bytes;
        record.payload_files = sealed->files;
    }
}

void take_payload(const Bag& bag, shelf::BagRecord& record) {
    const bagit::Manifest* manifest = strongest(bag, ManifestKind::payload);
    if (manifest == nullptr || manifest->torn() || !is_vouched_for(bag, manifest->file())) return;
    record.payload.reserve(manifest->size());
    for (std::uint32_t i = 0; i < manifest->size(); ++i) {
        const auto entry = (*manifest)[i];
        if (entry.digest.empty()) continue;
        record.payload.push_back({std::string(entry.path), digest::Value(entry.digest)});
    }
}

/// Rejected raws whose proxy is among the payload.
void take_rejected(BagSource& source, shelf::BagRecord& record) {
    const Bag& bag = source.bag();
    const Index file = bag.listing().find(job::frames_csv_file);
    if (file == bagit::Listing::none || !bag.listing().is_file(file) || record.payload.empty())
        return;
    const auto expected = bag.expected(file, digest::Algorithm::sha512);
    const auto csv = source.small_file(std::string(job::frames_csv_file));
    if (!expected || !csv || digest::digest_of(digest::Algorithm::sha512, *csv) != *expected)
        return;
    std::set<std::string_view> sealed;
    for (const shelf::PayloadFile& payload : record.payload)
        sealed.insert(payload.path);
    for (const job::FrameRow& row : job::parse_frames_csv(*csv, source.name())) {
        const auto proxy = std::ranges::find_if(
            row.proxies, [&](const std::string& path) { return sealed.contains(path); });
        if (proxy == row.proxies.end()) continue;
        for (const job::RejectedRaw& raw : row.rejected_raws)
            if (!raw.sha512.empty())
                record.rejected.push_back(
                    {io::Path(raw.path).filename().string(), raw.sha512, *proxy});
    }
}

}  // namespace

shelf::BagRecord bag_record(const Context& context, const io::Path& path) {
    BagSource source(context, path);
    return bag_record(source);
}

shelf::BagRecord bag_record(BagSource& source) {
    shelf::BagRecord record;
    record.name = source.name();
    record.media_type = source.media_type();
    record.seal = seal_of(source);
    take_info(source.bag(), record);
    take_payload(source.bag(), record);
    try {
        take_rejected(source, record);
    } catch (const Error&) {
        // An index that cannot be read proves no rejected frame; an audit names the damage.
        record.rejected.clear();
    }
    return record;
}

std::string shelved_name(const Context& context, const bagit::BagReport& report) {
    std::string file = context.files.resolve(report.path).filename().string();
    if (report.archive.empty()) return file;
    return report.name.empty() ? bagit::archive_stem(file) : report.name;
}

std::optional<shelf::BagRecord> bag_record(const Bag& bag, std::string_view media_type) {
    if (!bag.seal()) return std::nullopt;
    shelf::BagRecord record;
    record.media_type = media_type;
    record.seal = *bag.seal();
    take_info(bag, record);
    take_payload(bag, record);
    return record;
}

}  // namespace glassine::journeys
