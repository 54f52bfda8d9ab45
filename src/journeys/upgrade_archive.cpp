#include "journeys/upgrade_archive.h"

#include "glassine/bagit/archive.h"
#include "journeys/bag_reading.h"
#include "journeys/copies_as_folders.h"

namespace glassine::journeys {

std::optional<report::MigratedBag> upgrade_archive(const Context& context,
                                                   const CarryRequest& request, unsigned percent,
                                                   std::string& why) {
    const auto plain =
        bagit::PlainArchive::open(context.files, request.bag, reading_options(context));
    why =
        "a compressed archive is carried as it is; to make a new bag of it, unpack it and "
        "migrate the folder";
    if (!plain) return std::nullopt;
    why = "it is not one whole bag and nothing else, and is carried as it is";
    if (!is_one_bag(plain->contents())) return std::nullopt;
    const Context inside = seen_through(context, plain->files());
    why.clear();
    if (is_up_to_date(inside, plain->folder())) return std::nullopt;
    CarryRequest folder = request;
    folder.bag = plain->folder();
    report::MigratedBag bag = upgrade(inside, folder, percent);
    bag.files = 1;
    bag.bytes = context.files.info(request.bag).size;
    return bag;
}

}  // namespace glassine::journeys
