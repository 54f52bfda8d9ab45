#include "journeys/bag_source.h"

#include "glassine/base/text.h"
#include "glassine/io/files.h"
#include "journeys/bag_reading.h"

#include <map>
#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

Context seen_through(const Context& context, io::FileSystem& files) {
    return {files,          context.monitor,   context.studio,        context.stop,
            context.person, context.resources, context.register_file, context.object_store};
}

/// Keeps the bytes of one small file.
class Collecting : public flow::Sink {
  public:
    std::unique_ptr<flow::Stream> open(const flow::Item&) override {
        return std::make_unique<Keeping>(text);
    }
    std::string text;

  private:
    class Keeping : public flow::Stream {
      public:
        explicit Keeping(std::string& text) : text_(text) {}
        void block(std::uint64_t, std::span<const std::byte> bytes) override {
            text_.append(reinterpret_cast<const char*>(bytes.data()), bytes.size());
        }
        void finish(const flow::Outcome&) override {}

      private:
        std::string& text_;
    };
};

}  // namespace

bool may_hold_bag(io::FileSystem& files, const io::Path& path) {
    const io::Path resolved = files.resolve(path);
    return bagit::is_bag_folder(files, resolved) ||
           (files.info(resolved).type == io::FileType::regular &&
            bagit::is_archive_name(resolved.filename().string()));
}

BagSource::BagSource(const Context& context, const io::Path& path)
    : context_(context), folder_(path), name_(context.files.resolve(path).filename().string()) {
    if (!is_archive(path)) {
        bag_ = load_bag(context, path);
        return;
    }
    main_ = look_into(path);
    name_ = main_->contents().bag_name;
    if (name_.empty()) name_ = bagit::archive_stem(path.filename().string());
    if (is_packed()) return;
    context_.emplace(seen_through(context, *main_->as_files()));
    folder_ = main_->folder();
}

std::unique_ptr<bagit::ArchivedBag> BagSource::look_into(const io::Path& path) const {
    const auto phase = context_->monitor.phase(
        fmt::format("Looking into {}", text::for_terminal(path.filename().string())));
    flow::Options flow = reading_options(*context_);
    flow.observer = phase.get();
    auto archive =
        std::make_unique<bagit::ArchivedBag>(context_->files, path, bagit::LoadOptions{}, flow);
    if (!archive->contents().has_bag)
        throw Error(Cause::not_found, "look into the archive", path.string(),
                    "there is no bag in it",
                    "name the folder or archive of one bag; `glassine audit` lists the bags of a "
                    "drive");
    return archive;
}

io::Path BagSource::add_copy(const io::Path& path) {
    if (!context_->files.find(path) || !is_archive(path)) return path;
    auto archive = look_into(path);
    if (archive->as_files() == nullptr)
        throw Error(Cause::not_supported, "take files from", path.string(),
                    "it is compressed, so that it can only be read from its beginning",
                    "unpack it, and name the folder");
    const Context seen = seen_through(*context_, *archive->as_files());
    context_.emplace(seen);
    others_.push_back(std::move(archive));
    return others_.back()->folder();
}

flow::Result BagSource::read(const std::vector<flow::Item>& items,
                             std::span<flow::Sink* const> sinks, const flow::Options& options) {
    if (!is_packed())
        return flow::River(context_->files).run(flow::reading_of(items), sinks, options);
    std::map<bagit::Listing::Index, const flow::Item*> wanted;
    std::vector<bagit::Listing::Index> chosen;
    for (const flow::Item& item : items) {
        const bagit::Listing::Index index = bag().listing().find(item.name);
        if (index == bagit::Listing::none) continue;
        wanted.emplace(index, &item);
        chosen.push_back(index);
    }
    return main_->read(
        chosen, [&](bagit::Listing::Index index) { return *wanted.at(index); }, sinks, options);
}

std::optional<std::string> BagSource::small_file(const std::string& name) try {
    const bagit::Listing::Index index = bag().listing().find(name);
    if (index == bagit::Listing::none || !bag().listing().is_file(index)) return std::nullopt;
    if (!is_packed()) return io::read_small_file(context_->files, folder_ / name);
    flow::Item item;
    item.name = name;
    Collecting content;
    std::vector<flow::Sink*> sinks{&content};
    read({item}, sinks, reading_options(*context_));
    return content.text;
} catch (const Error& error) {
    if (error.cause() == Cause::interrupted) throw;
    return std::nullopt;
}

bool BagSource::is_archive(const io::Path& path) const {
    return context_->files.info(context_->files.resolve(path)).type == io::FileType::regular;
}

}  // namespace glassine::journeys
