#include "journeys/standing_copies.h"

#include "glassine/bagit/layout.h"
#include "glassine/base/text.h"
#include "glassine/flow/destination.h"
#include "glassine/flow/digest_sink.h"
#include "glassine/io/files.h"
#include "glassine/job/section.h"
#include "journeys/bag_reading.h"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using bagit::ManifestKind;
using digest::Algorithm;

Error other_bag(const io::Path& bag) {
    return {Cause::exists, "seal the bag", bag.string(),
            "another bag of that name is there already",
            "nothing is ever replaced: look at it with `glassine inspect`, or give this job "
            "another description"};
}

Error name_taken(const io::Path& bag) {
    return {Cause::exists, "seal the bag", bag.string(),
            "a folder or file of that name is there already",
            "nothing is ever replaced: move it away, or give this job another description"};
}

/// The paths that a bag's SHA-512 payload manifest lists.
std::set<std::string> listed_payload(const bagit::Bag& bag) {
    std::set<std::string> names;
    for (const auto& matched : bag.manifests()) {
        if (matched.manifest.file() !=
            bagit::manifest_file(ManifestKind::payload, Algorithm::sha512))
            continue;
        for (std::uint32_t i = 0; i < matched.manifest.size(); ++i)
            names.emplace(matched.manifest[i].path);
    }
    return names;
}

/// Whether a bag lists exactly these files, beside proxies that a close-out makes itself.
bool lists(std::set<std::string> listed, const std::vector<std::string>& payload_names) {
    for (const std::string& name : payload_names)
        if (listed.erase(name) == 0) return false;
    const std::string proxies = std::string(job::payload_folder(job::Section::rejects)) + "/";
    return std::ranges::all_of(listed,
                               [&](const std::string& name) { return name.starts_with(proxies); });
}

/// Reads the files into all copies; each must have the digest that is wanted.
void copy_files(const Context& context, io::FileSystem& files, const io::Path& from,
                const Expected& wanted, Copies& copies, BagMaking& making) {
    std::vector<flow::Item> items;
    for (const auto& [name, digest] : wanted) {
        const io::FileInfo info = files.info(from / name);
        items.push_back({items.size(), from / name, name, info.size, info.modified, true});
    }
    std::size_t right = 0;
    flow::DigestSink digests({Algorithm::sha512},
                             [&](const flow::Item& item, const std::vector<digest::Value>& values) {
                                 if (values.front() == wanted.at(item.name)) ++right;
                                 making.tag_written(item.name, values.front());
                             });
    std::vector<flow::Sink*> sinks = copies.sinks();
    sinks.push_back(&digests);
    flow::Options options;
    options.resources = context.resources;
    const flow::Result result = flow::River(files).run(flow::reading_of(items), sinks, options);
    copies.note_failures(result.sink_failures);
    if (right != wanted.size())
        throw Error(Cause::malformed, "copy the bag's own files", from.string(),
                    "some of them are not what was sealed; see `glassine audit`",
                    "to seal the job anew, give it another description");
}

}  // namespace

flow::Options StandingCopies::reading() const {
    flow::Options flow;
    flow.resources = context_.resources;
    flow.stop = context_.stop;
    return flow;
}

StandingCopies::Standing StandingCopies::open(const io::Path& bag) const {
    if (context_.files.info(bag).type != io::FileType::regular) {
        if (!bagit::is_bag_folder(context_.files, bag)) throw name_taken(bag);
        return {bag, nullptr, &context_.files, bag};
    }
    Standing standing{bag, nullptr, nullptr, {}};
    try {
        bagit::LoadOptions load;
        load.digests = false;
        standing.archive =
            std::make_unique<bagit::ArchivedBag>(context_.files, bag, load, reading());
    } catch (const Error& error) {
        if (error.cause() == Cause::malformed) throw name_taken(bag);
        throw;
    }
    standing.files = standing.archive->as_files();
    standing.folder = standing.archive->folder();
    if (standing.files == nullptr || !standing.archive->contents().has_bag) throw name_taken(bag);
    return standing;
}

void StandingCopies::add(const io::Path& bag, const std::vector<std::string>& payload_names) {
    Standing standing = open(bag);
    bagit::LoadOptions load;
    load.digests = false;
    const bagit::Bag loaded = bagit::load_folder(*standing.files, standing.folder, load, reading());
    if (!lists(listed_payload(loaded), payload_names)) throw other_bag(bag);
    bags_.push_back(std::move(standing));
}

void StandingCopies::clear_leftovers() const {
    for (const Standing& bag : bags_)
        clear_leftovers_beside(context_, bag.path);
}

void StandingCopies::compare(const std::string& payload_manifest) const {
    const std::string name = bagit::manifest_file(ManifestKind::payload, Algorithm::sha512);
    for (const Standing& bag : bags_)
        if (io::read_small_file(*bag.files, bag.folder / name) != payload_manifest)
            throw other_bag(bag.path);
}

std::string StandingCopies::copy_tags(Copies& copies, BagMaking& making) const {
    const Standing& model = bags_.front();
    flow::Options flow;
    flow.resources = context_.resources;
    const bagit::Bag bag = bagit::load_folder(*model.files, model.folder, {}, flow);
    const std::string tag_manifest = bagit::manifest_file(ManifestKind::tag, Algorithm::sha512);
    Expected wanted;
    for (const auto& matched : bag.manifests()) {
        if (matched.manifest.file() != tag_manifest) continue;
        for (std::uint32_t i = 0; i < matched.manifest.size(); ++i)
            wanted.emplace(matched.manifest[i].path, digest::Value(matched.manifest[i].digest));
    }
    wanted.erase(std::string(bagit::declaration_file));
    copy_files(context_, *model.files, model.folder, wanted, copies, making);
    return making.close_with(io::read_small_file(*model.files, model.folder / tag_manifest));
}

report::Copy StandingCopies::prove(std::size_t number, const std::string& destination) const {
    const io::Path& bag = bags_[number].path;
    report::Copy copy;
    copy.destination = destination;
    copy.path = bag.string();
    const auto phase =
        context_.monitor.phase(fmt::format("Reading again {}", text::for_terminal(bag.string())));
    bagit::CheckOptions options;
    options.flow.resources = context_.resources;
    options.flow.stop = context_.stop;
    options.flow.cache = io::Cache::bypass;
    options.flow.observer = phase.get();
    const bagit::BagReport report = bags_[number].archive
                                        ? bagit::check_archive(context_.files, bag, options)
                                        : bagit::check_folder(context_.files, bag, options);
    copy.verified = report.valid.value_or(false);
    if (copy.verified)
        copy.how = "sealed by an earlier run; read again from the medium and whole";
    else
        copy.failure = "the copy that an earlier run sealed there is damaged; see `glassine audit`";
    return copy;
}

}  // namespace glassine::journeys
