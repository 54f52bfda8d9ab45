#pragma once

#include "digest_key.h"
#include "glassine/bagit/bag.h"

#include <vector>

namespace glassine::bagit {

/// Knows the content of files that no manifest lists, to tell a file that was renamed or moved from
/// one that is lost.
class Moved {
  public:
    explicit Moved(const Bag& bag);

    /// The digest of any file; those that are listed are of no interest here. One call at a time.
    void met(Bag::Index file, digest::Algorithm algorithm, const digest::Value& value);
    /// The unlisted file that holds what is missing, one of the same name first; each is given out
    /// once.
    Bag::Index find(const Bag::Missing& missing);
    bool used(Bag::Index file) const;

  private:
    struct Content {
        digest::Algorithm algorithm;
        digest::Value value;
        Bag::Index file;
        std::size_t given_out;  ///< in the first of those with the same content: how many to skip
        DigestKey key() const { return {algorithm, value.bytes()}; }
    };
    void sort();

    const Bag& bag_;
    std::vector<Content> contents_;
    std::vector<bool> used_;
    bool sorted_ = false;
};

}  // namespace glassine::bagit
