#include "glassine/bagit/archive.h"
#include "glassine/journeys/migrate.h"
#include "support/program.h"
#include "support/sealing.h"

#include <algorithm>
#include <filesystem>
#include <string>

using namespace glassine;
using namespace glassine::test;
using report::Ending;
using report::Fate;
namespace fs = std::filesystem;

/// Archives that are damaged on the old drive, and what becomes of them on the new one.
namespace {

void shell(const fs::path& folder, const std::string& command) {
    const auto ended = run({"bash", "-c", command}, folder);
    INFO(command << "\n" << ended.err);
    REQUIRE(ended.code == 0);
}

constexpr const char* picture = "data/web/GLS_0001.jpg";

/// A job that was sealed in one file on drive 1 and, as the whole copy to compare with, in a
/// folder.
class OldArchive {
  public:
    explicit OldArchive(bagit::ArchiveForm form, unsigned recovery_percent)
        : file_(sealing_.drive(1) / (Sealing::name + std::string(bagit::archive_ending(form)))) {
        auto closing = sealing_.request({1});
        closing.serialize = form;
        closing.keep_folder = true;
        closing.recovery_percent = recovery_percent;
        REQUIRE(sealing_.closeout(io::posix_file_system(), closing).ending == Ending::good);
        fs::create_directories(elsewhere());
        fs::rename(sealing_.bag(1), whole());
    }

    /// Changes a byte of each of these files where the archive holds them as they are.
    void damage(const std::vector<std::string>& names) const {
        std::string all = content_of(file_);
        for (const std::string& name : names) {
            const std::size_t at = all.find(content_of(whole() / name));
            REQUIRE(at != std::string::npos);
            all[at + 100] = static_cast<char>(all[at + 100] ^ 1);
        }
        write_file(file_, all);
    }

    report::MigrateResult migrate(const std::vector<io::Path>& from = {}) const {
        journeys::SilentMonitor monitor;
        const journeys::Context context{io::posix_file_system(), monitor, {}, {}, "keeper", {}};
        journeys::MigrateRequest request;
        request.sources = {sealing_.drive(1)};
        request.to = sealing_.drive(2).string();
        request.from = from;
        const std::string before = tree_fingerprint(sealing_.drive(1));
        auto result = journeys::migrate(context, request);
        CHECK(tree_fingerprint(sealing_.drive(1)) == before);
        REQUIRE(result.bags.size() == 1);
        return result;
    }

    /// The folder on the new drive is the bag as it was sealed; coreutils accept it as well.
    void check_whole_folder() const {
        const fs::path made = sealing_.bag(2);
        std::size_t files = 0;
        for (const auto& entry : fs::recursive_directory_iterator(whole())) {
            if (!entry.is_regular_file()) continue;
            const fs::path name = fs::relative(entry.path(), whole());
            INFO(name);
            CHECK(content_of(made / name) == content_of(entry.path()));
            ++files;
        }
        CHECK(files == std::size_t(std::ranges::count_if(
                           fs::recursive_directory_iterator(made),
                           [](const fs::directory_entry& e) { return e.is_regular_file(); })));
        shell(made, "sha512sum --strict --quiet -c manifest-sha512.txt tagmanifest-sha512.txt");
        CHECK_FALSE(fs::exists(sealing_.drive(2) / file_.filename()));
    }

    fs::path elsewhere() const { return sealing_.root() / "elsewhere"; }
    fs::path whole() const { return elsewhere() / Sealing::name; }
    const fs::path& file() const { return file_; }
    fs::path carried() const { return sealing_.drive(2) / file_.filename(); }

  private:
    Sealing sealing_{{.kept = 2}};
    fs::path file_;
};

}  // namespace

TEST_CASE("a damaged archive becomes a whole folder from its own recovery data") {
    for (const auto form : {bagit::ArchiveForm::tar, bagit::ArchiveForm::zip}) {
        const OldArchive old(form, 30);
        old.damage({picture, "bag-info.txt"});
        const auto result = old.migrate();
        INFO(listed(result.bags[0].findings) << result.bags[0].failure);
        CHECK(result.ending == Ending::good);
        CHECK(result.bags[0].fate == Fate::carried);
        CHECK(result.bags[0].healed.size() == 2);
        CHECK(find(result.bags[0].findings, FindingKind::healed, picture) != nullptr);
        const auto size = fs::file_size(old.file());
        CHECK((result.bags[0].files == 1 && result.bags[0].bytes == size));
        CHECK((result.sources[0].may_go && result.sources[0].accounted == 1));
        old.check_whole_folder();

        const auto again = old.migrate();
        CHECK(again.bags[0].fate == Fate::already);
        CHECK((again.ending == Ending::good && again.sources[0].may_go));
        old.check_whole_folder();
    }
}

TEST_CASE("a damaged archive becomes a whole folder from another copy") {
    const OldArchive old(bagit::ArchiveForm::tar, 0);
    old.damage({picture});
    const auto result = old.migrate({old.elsewhere()});
    INFO(listed(result.bags[0].findings) << result.bags[0].failure);
    CHECK((result.ending == Ending::good && result.bags[0].fate == Fate::carried));
    old.check_whole_folder();
}

TEST_CASE("in place of a damaged archive that cannot be read by leaps a whole folder is carried") {
    const OldArchive old(bagit::ArchiveForm::tar, 0);
    old.damage({picture});
    const bool same_seal = GENERATE(true, false);
    if (!same_seal) shell(old.whole(), "sort -r -o tagmanifest-sha512.txt tagmanifest-sha512.txt");
    shell(old.file().parent_path(), "gzip *.tar");
    const auto result = old.migrate({old.elsewhere()});
    INFO(listed(result.bags[0].findings) << result.bags[0].failure);
    CHECK(result.bags[0].fate == (same_seal ? Fate::carried : Fate::damaged));
    CHECK(result.sources[0].may_go == same_seal);
    if (same_seal)
        old.check_whole_folder();
    else
        CHECK(fs::exists(old.carried().string() + ".gz"));
}

TEST_CASE("an archive that nothing heals is carried as it is, and keeps its drive") {
    const OldArchive old(bagit::ArchiveForm::zip, 5);
    old.damage({picture, "data/web/GLS_0002.jpg", "data/print/GLS_0001.jpg",
                "data/print/GLS_0002.jpg", "data/originals/GLS_0001.DNG",
                "data/originals/GLS_0002.DNG"});
    const auto result = old.migrate();
    INFO(listed(result.bags[0].findings) << result.bags[0].failure);
    CHECK(result.bags[0].fate == Fate::damaged);
    CHECK(result.ending == Ending::attention);
    CHECK_FALSE(result.sources[0].may_go);
    CHECK(find(result.bags[0].findings, FindingKind::payload_altered, picture) != nullptr);
    CHECK(content_of(old.carried()) == content_of(old.file()));
    CHECK(std::distance(fs::directory_iterator(old.carried().parent_path()),
                        fs::directory_iterator()) == 1);
}
