#pragma once

#include "glassine/journeys/context.h"
#include "glassine/report/audit_page.h"

#include <chrono>
#include <memory>
#include <vector>

namespace glassine::journeys {

/// Writes down beside an audit what only its page tells: how fast each place was read, what is lost
/// of damaged pictures. Does nothing when nobody asked for a page.
class AuditRecorder {
  public:
    AuditRecorder(const Context& context, report::AuditNotes* notes)
        : context_(context), notes_(notes) {}

    /// Hears of the reading of the next bag and hands on what it hears; null when nobody asked.
    std::unique_ptr<flow::Observer> watch(flow::Observer& further);
    /// The bag that was just read.
    void bag(const report::AuditedBag& bag);
    /// After the last bag: which bag lies on which of the drives that were named.
    void drives(const report::AuditResult& result, const std::vector<io::Path>& named);

  private:
    /// Earlier audits and labels, from the register.
    void remember(const report::AuditResult& result);

    const Context& context_;
    report::AuditNotes* notes_;
    std::vector<report::RateSample> rates_;
};

}  // namespace glassine::journeys
