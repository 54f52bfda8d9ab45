#pragma once

#include "glassine/bagit/check.h"
#include "glassine/bagit/path.h"
#include "support/temp_folder.h"

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include <catch2/catch.hpp>

namespace glassine::test {

/// A bag in memory that a test can spoil before it is written to disk. Made from the standard's
/// text, not with the library's own writers.
struct BagBuilder {
    std::string version = "1.0";
    std::string encoding = "UTF-8";
    std::vector<digest::Algorithm> payload_algorithms{digest::Algorithm::sha512};
    std::vector<digest::Algorithm> tag_algorithms{digest::Algorithm::sha512};
    std::map<std::string, std::string> files{{"data/one.txt", "one"}, {"data/two/two.txt", "two"}};

    /// A bag of this version with everything in order, sealed.
    static BagBuilder of(std::string version) {
        BagBuilder b;
        b.version = std::move(version);
        if (b.version < "0.96") b.files["package-info.txt"] = "Contact-Name: Mira Oslander\n";
        if (b.version >= "0.96") b.files["bag-info.txt"] = "Contact-Name: Mira Oslander\n";
        if (b.version < "0.95") b.tag_algorithms.clear();
        b.seal();
        return b;
    }

    static std::string hex(digest::Algorithm algorithm, std::string_view content) {
        return digest::digest_of(algorithm, content).hex();
    }
    /// A manifest line for a file of the bag.
    std::string line(digest::Algorithm algorithm, const std::string& path) const {
        const std::string name = version == "1.0" ? bagit::encode_path(path) : path;
        return hex(algorithm, files.at(path)) + "  " + name + "\n";
    }
    std::string line(const std::string& path) const { return line(payload_algorithms[0], path); }

    void declare() {
        files["bagit.txt"] =
            "BagIt-Version: " + version + "\nTag-File-Character-Encoding: " + encoding + "\n";
    }
    /// Writes the payload manifests anew.
    void list() {
        for (const auto algorithm : payload_algorithms) {
            std::string text;
            for (const auto& [path, content] : files)
                if (path.starts_with("data/")) text += line(algorithm, path);
            files[bagit::manifest_file(bagit::ManifestKind::payload, algorithm)] = text;
        }
    }
    /// Writes the tag manifests anew.
    void prove() {
        for (const auto algorithm : tag_algorithms) {
            std::string text;
            for (const auto& [path, content] : files)
                if (!path.starts_with("data/") && !path.starts_with("tagmanifest-"))
                    text += line(algorithm, path);
            files[bagit::manifest_file(bagit::ManifestKind::tag, algorithm)] = text;
        }
    }
    void seal() {
        declare();
        list();
        prove();
    }

    std::string& manifest() { return files.at("manifest-sha512.txt"); }
    std::string& info() { return files.at("bag-info.txt"); }

    /// The bag below `folder`; an empty folder data/ is made when nothing else makes it.
    std::filesystem::path write(const TempFolder& folder, const std::string& name = "bag") const {
        std::filesystem::create_directories(folder / name);
        if (!files.contains("data")) std::filesystem::create_directories(folder / (name + "/data"));
        for (const auto& [path, content] : files)
            folder.write(name + "/" + path, content);
        return folder / name;
    }
};

inline void replace(std::string& text, std::string_view what, std::string_view by) {
    const std::size_t at = text.find(what);
    REQUIRE(at != std::string::npos);
    text.replace(at, what.size(), by);
}

inline bagit::BagReport check(const std::filesystem::path& bag, bool quick = false) {
    bagit::CheckOptions options;
    options.quick = quick;
    return bagit::check_folder(io::posix_file_system(), bag, options);
}

inline bagit::BagReport check(const BagBuilder& bag, bool quick = false) {
    const TempFolder folder;
    return check(bag.write(folder), quick);
}

inline std::string described(const bagit::BagReport& report) {
    std::string out = report.complete ? "complete" : "not complete";
    out += !report.valid ? ", not known whether valid" : *report.valid ? ", valid" : ", not valid";
    for (const Finding& f : report.findings)
        out += "\n  " + std::string(word(f.severity)) + " " + std::string(word(f.kind)) + " [" +
               f.path + "] " + f.detail;
    return out;
}

inline const Finding* find(const bagit::BagReport& report, FindingKind kind,
                           std::string_view path = {}) {
    for (const Finding& f : report.findings)
        if (f.kind == kind && (path.empty() || f.path == path)) return &f;
    return nullptr;
}

}  // namespace glassine::test
