#pragma once

#include "glassine/report/audit_page.h"
#include "report/html.h"

#include <string_view>

/// The parts of an audit's page.
namespace glassine::report {

/// "whole", "damaged", …: in words, since colour alone must not carry it.
std::string_view verdict_words(const bagit::BagReport& bag);
bool needs_attention(const bagit::BagReport& bag);

/// The first sentence of the page.
std::string audit_verdict(const AuditResult& result, const AuditNotes& notes);

/// A bag that something was found in, or that needs attention: what, where, what to do.
Markup bag_article(const AuditedBag& bag, const BagNotes& notes, std::size_t number);

/// How fast the drive was read from beginning to end, beside its earlier audits; empty when too
/// little was read to tell.
Markup rate_plot(const AuditResult& result, const AuditNotes& notes, const DriveNotes& drive);
/// This audit and the earlier ones; empty when there are none.
Markup years_plot(const AuditResult& result, const AuditNotes& notes);

}  // namespace glassine::report
