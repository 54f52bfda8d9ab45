#pragma once

#include <string_view>

namespace glassine::report {

/// What an audit's page has beside the look of all pages (job/page_style.h).
inline constexpr std::string_view audit_page_style = R"css(
h4 { font-size: 1rem; margin: 1.2rem 0 .4rem; }
article { border-left: 3px solid var(--rule); padding-left: 1rem; }
article.bad { border-left-color: var(--alarm); }
th[scope=row] { min-width: 9rem; overflow-wrap: anywhere; }
.bags td { white-space: nowrap; }
.facts { color: var(--faint); }
.plot { margin: 1.25rem 0; max-width: 60rem; }
.plot svg { display: block; width: 100%; height: auto; }
.plot text { font: 12px system-ui, sans-serif; fill: var(--faint); }
.plot .grid { stroke: var(--mount); stroke-width: 1; }
.plot .curve { fill: none; stroke: var(--link); stroke-width: 1.5; }
.plot .level { stroke: var(--rule); stroke-width: 1; stroke-dasharray: 6 4; }
.plot .good { fill: var(--link); }
.plot .bad { stroke: var(--alarm); stroke-width: 2.5; }
.part { position: relative; width: 100%; }
.part img { width: 100%; max-height: none; }
.part svg { position: absolute; inset: 0; width: 100%; height: 100%; }
.loss { stroke: var(--alarm); stroke-width: 2; }
.hatch { stroke: var(--alarm); stroke-width: 4; }
.hatch-paper { fill: var(--alarm-paper); fill-opacity: .55; }
.plot figcaption strong { font: inherit; font-weight: 600; color: var(--ink); }
.plot figcaption { color: var(--faint); }
@media (max-width: 40rem) { .plot text { font-size: 20px; } }
@media print {
  .plot { break-inside: avoid; max-width: 16cm; }
  .plot .curve { stroke: #000; }
  .plot .grid { stroke: #bbb; }
  .frames { grid-template-columns: repeat(4, minmax(0, 1fr)); }
}
)css";

}  // namespace glassine::report
