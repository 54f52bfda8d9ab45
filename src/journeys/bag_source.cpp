#include "journeys/bag_source.h"

#include "glassine/io/files.h"
#include "journeys/bag_reading.h"
#include "journeys/mend_proofs.h"

#include <map>
#include <utility>

namespace glassine::journeys {
namespace {

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
    : folder_(path), name_(context.files.resolve(path).filename().string()) {
    if (context.files.info(context.files.resolve(path)).type != io::FileType::regular) {
        bag_ = load_bag(context, path);
        copies_.emplace(context);
        return;
    }
    main_ = look_into_archive(context, path);
    name_ = main_->contents().bag_name;
    if (name_.empty()) name_ = bagit::archive_stem(path.filename().string());
    if (is_packed()) {
        copies_.emplace(context);
        return;
    }
    copies_.emplace(seen_through(context, *main_->as_files()));
    folder_ = main_->folder();
}

flow::Result BagSource::read(const std::vector<flow::Item>& items,
                             std::span<flow::Sink* const> sinks, const flow::Options& options) {
    if (!is_packed())
        return flow::River(context().files).run(flow::reading_of(items), sinks, options);
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
    if (!is_packed()) return io::read_small_file(context().files, folder_ / name);
    flow::Item item;
    item.name = name;
    Collecting content;
    std::vector<flow::Sink*> sinks{&content};
    read({item}, sinks, reading_options(context()));
    return content.text;
} catch (const Error& error) {
    if (error.cause() == Cause::interrupted) throw;
    return std::nullopt;
}

std::optional<digest::Value> BagSource::digest_of(const std::string& name,
                                                  digest::Algorithm algorithm) {
    if (!is_packed()) return digest_of_file(context().files, folder_ / name, algorithm);
    const auto content = small_file(name);
    return content ? std::optional(digest::digest_of(algorithm, *content)) : std::nullopt;
}

}  // namespace glassine::journeys
