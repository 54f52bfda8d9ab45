#pragma once

#include <string_view>

namespace glassine::report {

/// What the pages of this room share beside the look of all pages (job/page_style.h): a verdict,
/// words of weight, tables to be read rather than added up.
inline constexpr std::string_view report_style = R"css(
.verdict {
  font: 600 1.25rem/1.35 Georgia, "Times New Roman", serif; margin: 1rem 0 0; padding: .6rem .8rem;
  border: 2px solid var(--rule); color: var(--ink);
}
.verdict.bad { border-color: var(--alarm); color: var(--alarm); background: var(--alarm-paper); }
.word { font-weight: 600; white-space: nowrap; }
.word.bad { color: var(--alarm); background: var(--alarm-paper); padding: .05rem .3rem; }
h3 { font: 600 1.1rem/1.3 Georgia, "Times New Roman", serif; margin: 2rem 0 .4rem; overflow-wrap: anywhere; }
.left th, .left td { text-align: left; vertical-align: top; overflow-wrap: anywhere; }
td.number, th.number { text-align: right; white-space: nowrap; }
.left thead th { overflow-wrap: normal; }
td small, th small { display: block; font-weight: 400; font-size: .85rem; color: var(--faint); }
code { font: .95em/1.4 ui-monospace, Menlo, Consolas, monospace; overflow-wrap: anywhere; }
ol li, ul li { margin: .3rem 0; }
@media print {
  html { font-size: 10pt; }
  h3, h4 { break-after: avoid; }
}
)css";

}  // namespace glassine::report
