#include "journeys/bag_compare.h"

#include "glassine/bagit/check.h"
#include "journeys/bag_reading.h"
#include "journeys/mend_proofs.h"
#include "journeys/source_tree.h"

#include <fmt/format.h>

namespace glassine::journeys {
namespace {

using digest::Algorithm;
using report::Fate;

/// The first tag file of `source` that `standing` has otherwise, although it is not the one at the
/// source that changed; empty when there is none.
std::string first_difference(const Context& context, const io::Path& source,
                             const io::Path& standing, const io::Path& below) {
    Proofs proofs;
    proofs.add(load_bag(context, source));
    for (const flow::Item& item : list_tree(context.files, source).files) {
        if (is_payload(item.name)) continue;
        const io::Path there = standing / below / item.name;
        const auto here = digest_of_file(context.files, item.path, Algorithm::sha512);
        if (here && here == digest_of_file(context.files, there, Algorithm::sha512)) continue;
        const Proof* proof = proofs.find(item.name);
        if (proof == nullptr ||
            digest_of_file(context.files, there, proof->algorithm) != proof->digest)
            return item.name;
    }
    return "";
}

void prove(const Context& context, const io::Path& standing, report::MigratedBag& bag) {
    const bagit::BagReport report = read_again(context, standing);
    if (report.stopped)
        throw Error(Cause::interrupted, "read the copy again", standing.string(),
                    "it was interrupted", "run the command again");
    bag.path = standing.string();
    if (report.valid.value_or(false)) {
        bag.fate = Fate::already;
        bag.how = "stood there already; read again from the medium and whole";
    } else {
        bag.failure =
            "the copy that stands there already is damaged; see `glassine audit`, and mend it "
            "--from this one";
    }
}

void compare(const Context& context, const io::Path& source, const io::Path& standing,
             const io::Path& below, report::MigratedBag& bag) {
    bag.fate = Fate::failed;
    clear_leftovers_beside(context, standing);
    if (!bagit::is_bag_folder(context.files, standing)) {
        bag.failure = "a folder or file of that name stands there, and it is no bag";
        return;
    }
    const std::string other = first_difference(context, source, standing, below);
    if (!other.empty())
        bag.failure = fmt::format(
            "another bag of that name stands there ({} is not the same); nothing is ever replaced",
            other);
    else
        prove(context, standing, bag);
}

}  // namespace

void prove_standing(const Context& context, const io::Path& source, const io::Path& standing,
                    report::MigratedBag& bag) {
    compare(context, source, standing, "", bag);
}

void prove_upgraded(const Context& context, const io::Path& source, const io::Path& standing,
                    report::MigratedBag& bag) {
    compare(context, source, standing, "previous", bag);
}

}  // namespace glassine::journeys
