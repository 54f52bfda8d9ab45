#pragma once

#include "glassine/bagit/bag_info.h"
#include "glassine/flow/handout.h"
#include "glassine/job/gallery_page.h"
#include "glassine/job/studio.h"
#include "glassine/photo/picture_sink.h"

#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

namespace glassine::journeys {

/// What stands at the top of a gallery of this bag.
job::SheetHead gallery_head(const job::Studio& studio, const bagit::BagInfo& info,
                            const std::string& bag_name);

/// Makes index.html and thumbnails/ of the pictures that are handed out, in the read that hands
/// them out.
class Gallery {
  public:
    /// Not `wanted`: does nothing.
    Gallery(io::FileSystem& files, bool wanted);

    /// To be read into beside the handing out.
    std::vector<flow::Sink*> sinks();
    /// What was seen of this file was damaged: its small picture is not to be shown.
    void forget(const std::string& name) { thumbnails_.erase(name); }
    /// After the last picture: adds the page and its thumbnails to what is handed out. `names`: the
    /// files that the visitor will find, as the bag has them. Where a page stands already at the
    /// target none is made, and that is found.
    void write(const job::SheetHead& head, const std::vector<std::string>& names,
               flow::Handout& target, Timestamp moment);
    bool written() const { return written_; }
    const std::vector<Finding>& findings() const { return findings_; }

  private:
    void note(const flow::Item& item, photo::Examined&& examined);

    std::unique_ptr<photo::PictureSink> pictures_;
    std::mutex mutex_;
    std::map<std::string, std::string> thumbnails_;  ///< JPEGs, by name in the bag
    std::vector<Finding> findings_;
    bool written_ = false;
};

}  // namespace glassine::journeys
