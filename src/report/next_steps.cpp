#include "report/next_steps.h"

#include "glassine/base/text.h"

#include <algorithm>
#include <initializer_list>

namespace glassine::report {
namespace {

using enum FindingKind;

bool holds(const AuditedBag& bag, std::initializer_list<FindingKind> kinds) {
    return std::ranges::any_of(bag.report.findings, [&](const Finding& f) {
        return f.severity == Severity::damage && std::ranges::find(kinds, f.kind) != kinds.end();
    });
}

bool noticed(const AuditedBag& bag, FindingKind kind) {
    return std::ranges::any_of(bag.report.findings,
                               [&](const Finding& f) { return f.kind == kind; });
}

template <typename... Args>
Markup sentence(MarkupFormat<Args...> format, const Args&... args) {
    Html html;
    html.put(format, args...);
    return {html.take()};
}

/// And was not read since.
bool was_exchanged(const AuditedBag& bag) {
    return std::ranges::any_of(bag.report.findings, [](const Finding& f) {
        return f.kind == object_exchanged && f.severity >= Severity::blocking;
    });
}

Markup command(const std::string& line) {
    return sentence("<code>{}</code>", line);
}

/// How what is lost is brought back.
Markup heal(const AuditedBag& bag) {
    const std::string mend = "glassine mend " + text::for_shell(bag.report.path);
    if (bag.outlook.starts_with("healable"))
        return sentence(
            "Heal it; its own recovery data are enough: {}. The damaged files are kept beside the "
            "bag.",
            command(mend));
    return sentence(
        "Bring another copy of this bag and heal from it: {} (COPY: the folder of the other copy). "
        "Several damaged copies together may be enough.",
        command(mend + " --from COPY"));
}

}  // namespace

std::vector<Markup> next_steps(const AuditedBag& bag) {
    std::vector<Markup> out;
    if (bag.report.stopped)
        out.push_back({"Run the audit again: this bag was not read to its end."});
    if (holds(bag, {unreadable}) || noticed(bag, slow_read))
        out.push_back(
            {"The drive has trouble giving back what it holds. Try another cable and port; write "
             "nothing to it, and carry its bags to another drive soon."});
    if (holds(bag, {replaced_since_sealed}))
        out.push_back(
            {"Content and manifests were exchanged together since the bag was sealed. Take another "
             "copy, and find out who wrote to this one."});
    if (was_exchanged(bag))
        out.push_back(
            {"In the store stands another object than the one that was proven. Audit the bag "
             "without --quick, and find out who writes there."});
    if (holds(bag, {payload_altered, payload_missing, payload_moved, tag_altered, tag_missing,
                    unreadable, declaration_missing, declaration_malformed, manifest_malformed,
                    manifest_missing, payload_directory_missing}))
        out.push_back(heal(bag));
    if (holds(bag, {payload_unlisted, special_file}))
        out.push_back(
            {"Somebody put files into the bag after it was sealed. Look at them, and move them out "
             "of the bag; Glassine deletes nothing."});
    if (holds(bag, {path_unsafe}))
        out.push_back(
            {"A path in this bag leads outside of it. Do not unpack or copy it with other tools; "
             "ask who made it."});
    if (holds(bag, {fetch_pending}))
        out.push_back({"Files are still to be fetched by hand into their places."});
    const bool damaged = any_at_least(bag.report.findings, Severity::damage);
    if (damaged && out.empty())
        out.push_back({"Look up each finding in docs/findings.md; it says what to do."});
    if (damaged) out.push_back({"Then audit again, this copy and every other copy of the job."});
    return out;
}

}  // namespace glassine::report
