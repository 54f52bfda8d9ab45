#pragma once

#include "glassine/bagit/bag.h"
#include "glassine/base/finding.h"
#include "glassine/journeys/context.h"
#include "glassine/report/results.h"
#include "journeys/shelf_records.h"

#include <optional>
#include <set>
#include <string>
#include <string_view>

namespace glassine::journeys {

/// What an object store says of the objects of one copy, a bag folder or an archive, beside what it
/// said when they were last proven. Costs no request: listings tell. Does nothing for copies that
/// lie on no volume of the shelf, and on media that keep no checksums.
class StoreChecksums {
  public:
    StoreChecksums(const Context& context, ShelfRecords& records, const io::Path& copy);

    /// Takes in what the store says now, once the copy was listed.
    void look(const bagit::Bag& bag);
    void look_at_archive();

    /// Whether another object stands there than the one that was proven. `name`: in the bag; empty:
    /// the archive.
    bool is_exchanged(std::string_view name) const { return exchanged_.contains(name); }
    /// What a look alone has to tell of those (`object-exchanged`).
    std::vector<Finding> findings() const;

    /// Files that were read and found whole, one after the other or, where nothing was found wrong,
    /// all of them. What the store says of these is what counts the next time.
    void proven(std::string_view name) { proven_.emplace(name); }
    void all_proven();
    /// Writes down what was proven since the last time.
    void write();

    /// The end of an audit: adds to the report what is to be said of exchanged objects: those that
    /// were proven are a note, those with damage are told already.
    void conclude(bool quick, report::AuditedBag& bag) const;

  private:
    void look_at(std::string_view name, const io::Path& path);
    std::string path_of(std::string_view name) const;

    const Context& context_;
    ShelfRecords& records_;
    io::Path copy_;       ///< resolved
    std::string volume_;  ///< empty: there is nothing to do
    std::string below_;   ///< the copy, relative to the volume
    shelf::Register::ObjectChecksums noted_;
    shelf::Register::ObjectChecksums now_;  ///< by names in the bag
    std::set<std::string, std::less<>> exchanged_;
    std::set<std::string, std::less<>> proven_;
    std::set<std::string, std::less<>> written_;
    std::uint64_t same_ = 0;
};

/// Notes what the store says of all objects of a copy that was proven just now, in place of what
/// was noted of the copy before.
void note_store_checksums(const Context& context, ShelfRecords& records, const io::Path& copy);
/// After a copy was changed by ourselves and is not whole: the next audit that reads it notes anew.
void forget_store_checksums(const Context& context, ShelfRecords& records, const io::Path& copy);

}  // namespace glassine::journeys
