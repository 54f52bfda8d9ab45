#pragma once

#include "journeys/audit_books.h"

#include <optional>

namespace glassine::journeys {

/// How an audit reads one bag. Each reads it once: for the digests, and for what its recovery data
/// says about damage (not with `quick`).

/// A bag that is a folder; a full reading goes on where the books say that an earlier one stopped.
report::AuditedBag audit_folder(const Context& context, const io::Path& path,
                                const bagit::CheckOptions& options, AuditBooks& books);

/// A bag that is packed into one file.
report::AuditedBag audit_archive(const Context& context, const io::Path& path,
                                 bagit::CheckOptions options, AuditBooks& books);

/// Structure, names and sizes, before anything is read in full. Nothing for a compressed archive,
/// which would have to be unpacked for it.
std::optional<bagit::BagReport> first_look(const Context& context, const io::Path& path,
                                           bool is_archive, bagit::CheckOptions options);

/// How an audit of this bag alone would end.
report::Ending ending_of_bag(const bagit::BagReport& bag);

}  // namespace glassine::journeys
