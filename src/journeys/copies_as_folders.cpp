#include "journeys/copies_as_folders.h"

#include "glassine/base/text.h"
#include "journeys/bag_reading.h"

#include <utility>

#include <fmt/format.h>

namespace glassine::journeys {

Context seen_through(const Context& context, io::FileSystem& files) {
    return {files,          context.monitor,   context.studio,        context.stop,
            context.person, context.resources, context.register_file, context.object_store};
}

std::unique_ptr<bagit::ArchivedBag> look_into_archive(const Context& context,
                                                      const io::Path& path) {
    const auto phase = context.monitor.phase(
        fmt::format("Looking into {}", text::for_terminal(path.filename().string())));
    flow::Options flow = reading_options(context);
    flow.observer = phase.get();
    auto archive =
        std::make_unique<bagit::ArchivedBag>(context.files, path, bagit::LoadOptions{}, flow);
    if (!archive->contents().has_bag)
        throw Error(Cause::not_found, "look into the archive", path.string(),
                    "there is no bag in it",
                    "name the folder or archive of one bag; `glassine audit` lists the bags of a "
                    "drive");
    return archive;
}

bool is_one_bag(const bagit::ArchiveContents& contents) {
    return contents.readable && contents.has_bag && !contents.torn && !contents.bag_name.empty() &&
           !any_at_least(contents.findings, Severity::warning);
}

io::Path CopiesAsFolders::add(const io::Path& copy) {
    io::FileSystem& files = context_->files;
    if (!files.find(copy) || files.info(files.resolve(copy)).type != io::FileType::regular)
        return copy;
    auto archive = look_into_archive(*context_, copy);
    if (archive->as_files() == nullptr)
        throw Error(Cause::not_supported, "take files from", copy.string(),
                    "it is compressed, so that it can only be read from its beginning",
                    "unpack it, and name the folder");
    const Context seen = seen_through(*context_, *archive->as_files());
    context_.emplace(seen);
    archives_.push_back(std::move(archive));
    return archives_.back()->folder();
}

std::vector<io::Path> CopiesAsFolders::add_usable(const std::vector<io::Path>& copies) {
    std::vector<io::Path> folders;
    folders.reserve(copies.size());
    for (const io::Path& copy : copies) {
        try {
            folders.push_back(add(copy));
        } catch (const Error& error) {
            if (error.cause() == Cause::interrupted) throw;
            // Whatever is wrong with it, it is no help; an audit of that copy tells why.
            continue;
        }
    }
    return folders;
}

}  // namespace glassine::journeys
