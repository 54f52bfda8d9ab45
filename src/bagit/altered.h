#pragma once

#include "digest_key.h"
#include "glassine/bagit/bag.h"

#include <functional>
#include <string>
#include <vector>

namespace glassine::bagit {

/// Compares digests with those that the manifests give and says of each file that differs what can
/// be said of it.
class Altered {
  public:
    explicit Altered(const Bag& bag) : bag_(bag) {}

    /// One call at a time.
    void compare(Bag::Index file, digest::Algorithm algorithm, const digest::Value& value);
    void tell(const std::function<void(Finding)>& report);

  private:
    static constexpr std::uint32_t none = UINT32_MAX;
    static constexpr std::uint32_t companion = UINT32_MAX;
    struct Mismatch {
        Bag::Index file;
        std::uint32_t manifest;  ///< or `companion`
        digest::Algorithm algorithm;
        std::uint32_t content;  ///< index in `contents_`; none beyond the first ones
    };
    /// What an altered file holds now.
    struct Content {
        digest::Algorithm algorithm;
        digest::Value value;
        std::string_view owner;  ///< the path that the manifests give this content, if any
        DigestKey key() const { return {algorithm, value.bytes()}; }
    };
    void note(Bag::Index file, std::uint32_t manifest, digest::Algorithm algorithm,
              const digest::Value& value);
    bool agrees_with_any(const Bag::Matched& m, Bag::Index file, const digest::Value& value) const;
    std::string detail(std::span<const Mismatch> of_one_file) const;
    std::string against(std::span<const Mismatch> of_one_file) const;
    std::string size_hint(Bag::Index file) const;
    void find_owners();

    const Bag& bag_;
    std::vector<Mismatch> mismatches_;
    std::vector<Content> contents_;
    bool only_one_ = false;
};

}  // namespace glassine::bagit
