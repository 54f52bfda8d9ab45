#include "journeys/gallery.h"

#include "glassine/job/contact_sheet.h"
#include "glassine/job/layout.h"
#include "journeys/restore_plan.h"

#include <algorithm>
#include <utility>

namespace glassine::journeys {
namespace {

bool is_shown(const std::string& name) {
    using photo::Kind;
    const Kind kind = photo::kind_of_name(job::file_name_of(name));
    return kind != Kind::other && kind != Kind::xmp;
}

/// "print" for "print/set/0042.jpg".
std::string section_word(const std::string& path) {
    const std::size_t slash = path.find('/');
    return slash == std::string::npos ? "picture" : path.substr(0, slash);
}

/// What browsers show comes first.
int rank(const std::string& what) {
    return what == "web" ? 0 : what == "print" ? 1 : 2;
}

/// A picture on the page while it is put together.
struct Shown {
    job::GalleryPicture picture;
    const std::string* jpeg = nullptr;
};

void put(flow::Handout& target, const std::string& name, const std::string& content,
         Timestamp moment) {
    flow::Item item;
    item.name = name;
    item.size = content.size();
    item.modified = moment;
    const auto file = target.create(item);
    file->append(std::as_bytes(std::span(content)));
    file->keep();
}

}  // namespace

job::SheetHead gallery_head(const job::Studio& studio, const bagit::BagInfo& info,
                            const std::string& bag_name) {
    job::SheetHead head;
    head.studio = info.value("Source-Organization").value_or(studio.name);
    head.clients = info.values("Client-Name");
    head.about = info.value("External-Description").value_or("");
    head.date = info.value("Shoot-Date").value_or("");
    head.rights = info.value("Rights").value_or(studio.rights);
    head.bag_name = bag_name;
    return head;
}

Gallery::Gallery(io::FileSystem& files, bool wanted) {
    if (!wanted) return;
    photo::PictureSink::Options options;
    options.wishes = [](const flow::Item&) { return photo::Wishes{job::thumbnail_edge, false}; };
    pictures_ = std::make_unique<photo::PictureSink>(
        files,
        [this](const flow::Item& item, const flow::Outcome&, photo::Examined&& examined) {
            note(item, std::move(examined));
        },
        std::move(options));
}

std::vector<flow::Sink*> Gallery::sinks() {
    if (!pictures_) return {};
    return {pictures_.get()};
}

void Gallery::note(const flow::Item& item, photo::Examined&& examined) {
    const std::lock_guard lock(mutex_);
    if (examined.thumbnail.empty())
        thumbnails_.erase(item.name);
    else
        thumbnails_[item.name] = std::move(examined.thumbnail);
}

void Gallery::write(const job::SheetHead& head, const std::vector<std::string>& names,
                    flow::Handout& target, Timestamp moment) {
    pictures_->complete();
    if (!target.standing(std::string(job::gallery_file)).empty()) {
        findings_.push_back(found(FindingKind::target_exists, std::string(job::gallery_file),
                                  "a page stands there already; no gallery was made"));
        return;
    }
    std::map<std::string, Shown> by_stem;
    for (const std::string& name : names) {
        if (!is_shown(name)) continue;
        const std::string path = handed_out_name(name);
        Shown& shown = by_stem[std::string(job::stem_of(job::file_name_of(path)))];
        shown.picture.files.push_back({section_word(path), path});
        const auto jpeg = thumbnails_.find(name);
        if (jpeg != thumbnails_.end()) shown.jpeg = &jpeg->second;
    }
    std::vector<job::GalleryPicture> pictures;
    for (auto& [stem, shown] : by_stem) {
        shown.picture.name = stem;
        std::ranges::stable_sort(shown.picture.files, {},
                                 [](const auto& file) { return rank(file.what); });
        if (shown.jpeg != nullptr) {
            shown.picture.thumbnail = job::thumbnail_name(pictures.size());
            put(target, shown.picture.thumbnail, *shown.jpeg, moment);
        }
        pictures.push_back(std::move(shown.picture));
    }
    put(target, std::string(job::gallery_file), job::gallery_page(head, pictures), moment);
    written_ = true;
}

}  // namespace glassine::journeys
