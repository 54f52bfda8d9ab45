#include "glassine/bagit/listing.h"

#include "glassine/bagit/encoding.h"
#include "glassine/bagit/path.h"
#include "glassine/base/text.h"
#include "keyed_hash.h"

#include <algorithm>
#include <bit>

namespace glassine::bagit {
namespace {

/// The name as text: in NFC, and, where its bytes are no UTF-8, read in the bag's own encoding.
std::string as_text(std::string_view name, std::string_view encoding) {
    if (text::is_utf8(name)) return text::nfc(name);
    const Encoding known = encoding_named(encoding);
    if (!known.known || known.utf8) return std::string(name);
    std::string decoded;
    Decoder decoder(known);
    decoder.decode(std::as_bytes(std::span(name.data(), name.size())), decoded);
    decoder.finish(decoded);
    return text::nfc(without_marks(decoded));
}

}  // namespace

Listing::Index Listing::add(std::string_view name, io::FileType type, std::uint64_t size,
                            Timestamp modified) {
    const std::string_view kept = names_.add(name);
    records_.push_back(
        {kept.data(), static_cast<std::uint32_t>(kept.size()), type, size, modified});
    name_bytes_ += name.size();
    if (type == io::FileType::regular && in_payload(name)) {
        ++payload_files_;
        payload_bytes_ += size;
    }
    return static_cast<Index>(records_.size() - 1);
}

Listing::Entry Listing::operator[](Index index) const {
    const Record& record = records_[index];
    return {{record.name, record.length}, record.type, record.size, record.modified};
}

void Listing::build_table() const {
    const std::size_t places = std::bit_ceil(std::max<std::size_t>(16, records_.size() * 2));
    table_.assign(places, none);
    for (Index i = 0; i < size(); ++i) {
        std::size_t at = keyed_hash((*this)[i].name) & (places - 1);
        while (table_[at] != none)
            at = (at + 1) & (places - 1);
        table_[at] = i;
    }
}

Listing::Index Listing::find(std::string_view name, Index hint) const {
    if (hint < size() && (*this)[hint].name == name) return hint;
    if (table_.size() < records_.size() * 2 || table_.empty()) build_table();
    const std::size_t mask = table_.size() - 1;
    for (std::size_t at = keyed_hash(name) & mask; table_[at] != none; at = (at + 1) & mask)
        if ((*this)[table_[at]].name == name) return table_[at];
    return none;
}

void Listing::build_texts(std::string_view encoding) const {
    for (Index i = 0; i < size(); ++i) {
        const std::string_view name = (*this)[i].name;
        if (!text::is_ascii(name)) texts_.push_back({keyed_hash(as_text(name, encoding)), i});
    }
    std::ranges::sort(texts_, [](const TextKey& a, const TextKey& b) {
        return a.hash != b.hash ? a.hash < b.hash : a.index < b.index;
    });
    texts_built_ = true;
}

std::vector<Listing::Index> Listing::find_same_text(std::string_view name,
                                                    std::string_view encoding) const {
    if (text::is_ascii(name)) return {};
    if (!texts_built_) build_texts(encoding);
    const std::string wanted = as_text(name, encoding);
    std::vector<Index> out;
    const std::uint64_t hash = keyed_hash(wanted);
    const auto first = std::ranges::lower_bound(texts_, hash, {}, &TextKey::hash);
    for (auto key = first; key != texts_.end() && key->hash == hash; ++key) {
        const std::string_view there = (*this)[key->index].name;
        if (there != name && as_text(there, encoding) == wanted) out.push_back(key->index);
    }
    return out;
}

Listing::Index Listing::find_ignoring_case(std::string_view name) const {
    for (Index i = 0; i < size(); ++i)
        if (text::equal_ignoring_ascii_case((*this)[i].name, name)) return i;
    return none;
}

}  // namespace glassine::bagit
