#include "journeys/bag_making.h"

#include "glassine/bagit/declaration.h"
#include "glassine/bagit/layout.h"

#include <utility>

namespace glassine::journeys {

using digest::Algorithm;
using digest::digest_of;

void BagMaking::payload_written(const std::string& name, const digest::Value& sha512) {
    const std::lock_guard lock(mutex_);
    payload_.push_back({name, sha512});
    expected_.emplace(name, sha512);
}

void BagMaking::add_payload(const std::string& name, std::string_view content) {
    write(name, content);
    const std::lock_guard lock(mutex_);
    payload_.push_back({name, expected_.at(name)});
}

void BagMaking::tag_written(const std::string& name, const digest::Value& sha512) {
    const std::lock_guard lock(mutex_);
    tags_.push_back({name, sha512});
    expected_.emplace(name, sha512);
}

void BagMaking::add_tag(const std::string& name, std::string_view content) {
    write(name, content);
    const std::lock_guard lock(mutex_);
    tags_.push_back({name, expected_.at(name)});
}

std::string BagMaking::payload_manifest() const {
    const std::lock_guard lock(mutex_);
    return bagit::manifest_text(payload_);
}

void BagMaking::write_payload_manifest() {
    add_tag(bagit::manifest_file(bagit::ManifestKind::payload, Algorithm::sha512),
            payload_manifest());
}

std::vector<recovery::FileSize> BagMaking::small_files() const {
    const std::lock_guard lock(mutex_);
    std::vector<recovery::FileSize> files;
    for (const auto& [name, size] : small_)
        files.push_back({name, size});
    files.push_back({std::string(bagit::declaration_file), bagit::declaration_text().size()});
    return files;
}

std::string BagMaking::small_file(const std::string& name) {
    if (name == bagit::declaration_file) return bagit::declaration_text();
    std::string content = copies_.give_back(name);
    const std::lock_guard lock(mutex_);
    if (digest_of(Algorithm::sha512, content) != expected_.at(name))
        throw Error(
            Cause::unreadable, "read what was written", name,
            "it reads differently from what was written",
            "do not use this drive, cable or port for an archive before it has been tested");
    return content;
}

std::string BagMaking::close() {
    std::vector<bagit::ManifestLine> tags = tags_;
    tags.push_back({std::string(bagit::declaration_file),
                    digest_of(Algorithm::sha512, bagit::declaration_text())});
    return close_with(bagit::manifest_text(std::move(tags)));
}

std::string BagMaking::close_with(const std::string& tag_manifest) {
    write(bagit::manifest_file(bagit::ManifestKind::tag, Algorithm::sha512), tag_manifest);
    write(std::string(bagit::declaration_file), bagit::declaration_text());
    return digest_of(Algorithm::sha512, tag_manifest).hex();
}

void BagMaking::write(const std::string& name, std::string_view content) {
    {
        const std::lock_guard lock(mutex_);
        expected_.emplace(name, digest_of(Algorithm::sha512, content));
        small_.emplace(name, content.size());
    }
    copies_.put(name, content);
}

}  // namespace glassine::journeys
