#include "journeys/tag_files.h"

#include "glassine/bagit/profile.h"
#include "glassine/base/text.h"
#include "glassine/base/version.h"

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

/// Line breaks and controls have no place in a one-line value.
std::string one_line(std::string_view value) {
    std::string out = text::to_utf8(value);
    for (char& c : out)
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = ' ';
    return std::string(text::trim(out));
}

}  // namespace

std::vector<bagit::Element> bag_info_elements(const job::Studio& studio,
                                              const CloseoutRequest& request,
                                              const JobFacts& facts) {
    std::vector<bagit::Element> elements;
    const auto add = [&](std::string label, const std::string& value) {
        std::string line = one_line(value);
        if (!line.empty()) elements.push_back({std::move(label), std::move(line)});
    };
    add(std::string(bagit::profile_label), std::string(bagit::studio_profile));
    add("Source-Organization", studio.organisation.empty() ? studio.name : studio.organisation);
    add("Contact-Name", studio.contact_name);
    add("Contact-Email", studio.contact_email);
    add("External-Description", request.about);
    add("External-Identifier", request.job_number);
    for (const std::string& client : request.clients)
        add("Client-Name", client);
    add("Shoot-Date", iso_date(request.date));
    add("Bagging-Date", iso_date(facts.bagging_date));
    if (request.promised_until) add("Promised-Until", iso_date(*request.promised_until));
    if (request.keep_until) add("Keep-Until", iso_date(*request.keep_until));
    add("Rights", studio.rights);
    for (const report::SectionCount& s : facts.sections)
        add("Section-Summary",
            fmt::format("{}: {}, {}", job::word(s.section), text::counted(s.files, "file"),
                        text::human_bytes(s.bytes)));
    add("Bag-Size", bagit::bag_size_text(facts.payload_bytes));
    add("Payload-Oxum", bagit::oxum_text({facts.payload_bytes, facts.payload_files}));
    add("Sealed-With", fmt::format("Glassine {}", version()));
    return elements;
}

std::string how_to_verify(const std::string& bag_name, std::uint64_t payload_files) {
    return fmt::format(R"(HOW TO VERIFY THIS FOLDER
=========================

This folder, {0}, is a sealed copy of a finished photo job. It is a "bag" as
described in RFC 8493 (The BagIt File Packaging Format). You can prove that
every file in it is still exactly what was put in, without the program that
made it.

1. Open a command line in this folder. (If it lies in a .tar or .zip file,
   unpack that first.)

2. Check the pictures ({1} under data/):

       sha512sum -c --quiet manifest-sha512.txt

3. Check everything else (lists, index, notes):

       sha512sum -c --quiet tagmanifest-sha512.txt

   No output from either command means: every file is whole. A line that ends
   in FAILED names a file that has changed or cannot be read; "No such file"
   means that a file is gone.

   Where sha512sum is not installed, "shasum -a 512 -c" takes the same lists.
   In a name in these lists, %25 stands for a percent sign, %0A and %0D for
   line breaks; a checksum tool cannot find such a file by itself.

4. These commands do not notice files that were added. The number of files
   under data/ and their bytes stand in bag-info.txt, after "Payload-Oxum"
   (bytes, a point, files).

If a file is damaged: do not change anything here. Stop using the drive, look
for another copy of this job, and take the file from there.

data/originals       the kept raws and their sidecars
data/print           the final pictures for print
data/web             the final pictures for the web
data/reject-proxies  a JPEG of every rejected frame
bag-info.txt         whose job it is, when it was shot and sealed
events.jsonl         what was done to it up to sealing, one line each

This folder holds pictures of people. Whoever finds it: treat it as private,
and keep to the law and to the contract under which the pictures were made.
)",
                       bag_name, text::counted(payload_files, "file"));
}

}  // namespace glassine::journeys
