#pragma once

#include "glassine/bagit/archive.h"
#include "glassine/bagit/bag.h"
#include "glassine/flow/river.h"
#include "glassine/journeys/context.h"
#include "journeys/copies_as_folders.h"

#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::journeys {

/// A bag to read from, whatever it stands in. A folder, and an archive that is not compressed, are
/// read by leaps: only what is asked for. A packed archive (.tar.gz …) is read from its beginning
/// each time.
class BagSource {
  public:
    /// Looks it through. Error `not_found` when it is no bag and no archive of one.
    BagSource(const Context& context, const io::Path& path);

    /// The context in which the bag, and every copy that was added, is a folder.
    const Context& context() const { return copies_->context(); }
    /// Of the bag in that context; of a packed archive the archive file.
    const io::Path& folder() const { return folder_; }
    const std::string& name() const { return name_; }
    /// Of the archive file; empty for a folder.
    std::string media_type() const { return main_ ? main_->contents().media_type : ""; }
    const bagit::Bag& bag() const { return main_ ? main_->bag() : *bag_; }

    /// Other copies of the bag, which then are folders in the context.
    CopiesAsFolders& copies() { return *copies_; }

    /// A small file of the bag; nothing when it is not there or cannot be read.
    std::optional<std::string> small_file(const std::string& name);
    /// Of a file as it stands here; nothing when it is not there or cannot be read.
    std::optional<digest::Value> digest_of(const std::string& name, digest::Algorithm algorithm);
    /// As `River::run`; the items name files of the bag.
    flow::Result read(const std::vector<flow::Item>& items, std::span<flow::Sink* const> sinks,
                      const flow::Options& options);

  private:
    bool is_packed() const { return main_ != nullptr && main_->as_files() == nullptr; }

    io::Path folder_;
    std::string name_;
    std::optional<bagit::Bag> bag_;
    std::unique_ptr<bagit::ArchivedBag> main_;
    std::optional<CopiesAsFolders> copies_;  ///< sees the bag itself through `main_`
};

/// Whether restore and migrate can read a bag from here: a bag's folder, or a file that is called
/// like an archive.
bool may_hold_bag(io::FileSystem& files, const io::Path& path);

}  // namespace glassine::journeys
