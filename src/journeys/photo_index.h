#pragma once

#include "glassine/job/accounting.h"
#include "glassine/job/contact_sheet.h"
#include "journeys/bag_making.h"

#include <set>
#include <span>
#include <string>

namespace glassine::journeys {

/// The tag directory photo-index/: frames.csv, the contact sheet and its thumbnails.
class PhotoIndex {
  public:
    PhotoIndex(std::span<const job::JobFile> files, BagMaking& bag) : files_(files), bag_(bag) {}

    /// Whether a file's small picture goes on the sheet: what was shot, not what was made of it.
    static bool wants_thumbnail(const job::JobFile& file);
    /// Written at once, so that thousands of them need no memory. One call at a time.
    void add_thumbnail(std::size_t file, const std::string& jpeg);
    /// After the accounting.
    void write(const job::SheetHead& head, const job::Accounting& accounting,
               std::span<const job::Observed> observed);

  private:
    std::string thumbnail_of(const job::Frame& frame) const;

    std::span<const job::JobFile> files_;
    BagMaking& bag_;
    std::set<std::size_t> thumbnails_;
};

}  // namespace glassine::journeys
