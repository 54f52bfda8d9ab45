#include "glassine/journeys/preflight.h"

#include "glassine/base/text.h"
#include "journeys/job_look.h"
#include "journeys/job_reading.h"

#include <algorithm>
#include <iterator>

#include <fmt/format.h>

namespace glassine::journeys {

report::PreflightResult preflight(const Context& context, const PreflightRequest& request) {
    report::PreflightResult result;
    result.command = "preflight";
    result.started = context.files.now();
    result.job = request.job.string();
    JobLook look = look_at_job(context, request.job, request.sections);
    result.findings = look.layout.findings;
    result.sections = look.sections;
    result.files = look.payload_files;
    result.bytes = look.payload_bytes;

    const std::vector<flow::Item> items = items_for(look.layout.files);
    JobReading reading(context, look.layout, {});
    const auto phase =
        context.monitor.phase(fmt::format("Looking at {}", text::counted(items.size(), "file")));
    const flow::Result read = reading.read(items, {}, phase.get());
    std::ranges::copy(reading.findings(), std::back_inserter(result.findings));
    if (!read.cancelled) {
        job::Accounting accounting = job::account(look.layout.files, reading.observed(),
                                                  {request.date, context.studio.limits});
        std::ranges::move(accounting.findings, std::back_inserter(result.findings));
        result.summary = std::move(accounting.summary);
    }
    if (any_at_least(result.findings, Severity::blocking))
        result.ending = report::Ending::attention;
    if (reading.unreadable()) result.ending = report::worse(result.ending, report::Ending::failed);
    if (read.cancelled) result.ending = report::Ending::interrupted;
    sort_findings(result.findings);
    result.finished = context.files.now();
    return result;
}

}  // namespace glassine::journeys
