#pragma once

#include "glassine/bagit/bag.h"
#include "glassine/digest/digest.h"
#include "glassine/io/file_system.h"

#include <map>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace glassine::journeys {

/// True for payload, false for tag files of all kinds.
inline bool is_payload(const std::string& name) {
    return name.starts_with("data/");
}

/// What a file of a bag must be like: a digest that a manifest gives.
struct Proof {
    digest::Algorithm algorithm = digest::Algorithm::sha512;
    digest::Value digest;
};

/// The digests by which healed files are proven: payload by payload manifests, tag files by tag
/// manifests; where there are several algorithms, by the longest digest.
class Proofs {
  public:
    void add(const bagit::Bag& bag);
    void add(const bagit::Manifest& manifest);
    void add(const std::string& name, const Proof& proof);
    /// By the names that files have on the volume, where these are written otherwise than in the
    /// manifest (Unicode normalisation).
    void add_as_found(const bagit::Bag& bag);
    /// Takes the place of what is known of a file.
    void prefer(const std::string& name, const Proof& proof) { proofs_[name] = proof; }
    const Proof* find(const std::string& name) const;
    /// Names that some manifest lists.
    const std::map<std::string, Proof>& all() const { return proofs_; }

  private:
    void keep(std::string_view name, digest::Algorithm algorithm,
              std::span<const std::byte> digest);

    std::map<std::string, Proof> proofs_;
};

/// The digest of a file; nothing when it is not there or cannot be read to its end.
std::optional<digest::Value> digest_of_file(io::FileSystem& files, const io::Path& path,
                                            digest::Algorithm algorithm);

/// A folder's own tag manifest as it must have been, made from the digests of its tag files: what
/// `closeout` would have written for these names. Nothing when one of them cannot be read.
std::optional<std::string> tag_manifest_from(io::FileSystem& files, const io::Path& bag,
                                             const std::set<std::string>& tag_files);

}  // namespace glassine::journeys
