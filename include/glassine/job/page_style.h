#pragma once

#include <string_view>

namespace glassine::job {

/// The look of every page that Glassine writes: paper, ink and the typed labels of an archive box.
/// Colours are named once for light and once for dark; a test computes their contrast (WCAG 2.1
/// §1.4.3). A page adds what only it has.
inline constexpr std::string_view page_style = R"css(
:root {
  color-scheme: light dark;
  --paper: #f6f4ee; --mount: #e7e3d8; --rule: #817a69; --ink: #211e18; --faint: #5c5648;
  --link: #1f4e6b; --alarm: #9a1f12; --alarm-paper: #fbeae6;
}
@media (prefers-color-scheme: dark) {
  :root {
    --paper: #191815; --mount: #2a2823; --rule: #7f7868; --ink: #ece8dd; --faint: #b0a996;
    --link: #93c6e6; --alarm: #ff9d8c; --alarm-paper: #3a1c17;
  }
}
* { box-sizing: border-box; }
body {
  margin: 0 auto; max-width: 100rem; padding: 1.5rem clamp(1rem, 3vw, 3rem) 4rem;
  background: var(--paper); color: var(--ink);
  font: 1rem/1.45 system-ui, "Segoe UI", "Helvetica Neue", Arial, sans-serif;
}
a { color: var(--link); text-underline-offset: .15em; overflow-wrap: anywhere; }
a:focus-visible, .wide:focus-visible { outline: 3px solid var(--link); outline-offset: 2px; }
header { border-bottom: 3px double var(--rule); padding-bottom: 1rem; margin-bottom: 1rem; }
h1 { font: 600 clamp(1.5rem, 4vw, 2.25rem)/1.15 Georgia, "Times New Roman", serif; margin: 0; }
h2 {
  font: 600 1.35rem/1.2 Georgia, "Times New Roman", serif;
  margin: 2.5rem 0 .75rem; border-bottom: 1px solid var(--rule); padding-bottom: .3rem;
}
h2 small { font: 400 1rem/1.2 system-ui, sans-serif; color: var(--faint); }
header p { margin: .35rem 0 0; color: var(--faint); overflow-wrap: anywhere; }
nav ul { list-style: none; display: flex; flex-wrap: wrap; gap: .25rem 1.5rem; padding: 0; }
nav a { display: inline-block; padding: .3rem 0; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; margin: 1rem 0; }
caption { text-align: left; color: var(--faint); padding-bottom: .3rem; }
th, td { text-align: right; padding: .25rem .9rem .25rem 0; border-top: 1px solid var(--rule); }
th:first-child, td:first-child { text-align: left; }
@media (max-width: 40rem) {
  table { font-size: .85rem; line-height: 1.3; }
  th, td { padding-right: .5rem; }
}
td, time { font-variant-numeric: tabular-nums; }
.frames {
  display: grid; gap: 1rem .9rem; padding: 0; margin: 0; list-style: none;
  grid-template-columns: repeat(auto-fill, minmax(min(11rem, 45%), 1fr));
}
figure { margin: 0; }
.mount {
  display: flex; align-items: center; justify-content: center; aspect-ratio: 1;
  background: var(--mount); padding: .4rem; text-align: center; color: var(--faint);
}
.mount img { display: block; max-width: 100%; max-height: 100%; }
.absent { border: 2px dashed var(--rule); }
.bad .mount { outline: 3px solid var(--alarm); outline-offset: -3px; }
figcaption { font-size: .85rem; line-height: 1.35; padding-top: .35rem; overflow-wrap: anywhere; }
figcaption strong { font: 600 .95rem/1.3 ui-monospace, Menlo, Consolas, monospace; }
figcaption span { display: block; color: var(--faint); }
figcaption .mark {
  color: var(--alarm); background: var(--alarm-paper); font-weight: 600; padding: .1rem .3rem;
}
footer { margin-top: 3rem; border-top: 3px double var(--rule); padding-top: .75rem; color: var(--faint); }
@page { margin: 14mm 12mm; }
@media print {
  :root {
    color-scheme: light;
    --paper: #fff; --mount: #fff; --rule: #777; --ink: #000; --faint: #444;
    --link: #000; --alarm: #000; --alarm-paper: #fff;
  }
  body { max-width: none; padding: 0; font-size: 9pt; }
  nav { display: none; }
  a { text-decoration: none; }
  .frames { grid-template-columns: repeat(6, minmax(0, 1fr)); gap: .5rem; }
  .mount { border: 1px solid var(--rule); padding: 0; }
  .frames li, tr { break-inside: avoid; }
  h2 { break-after: avoid; }
  figcaption { font-size: 7.5pt; }
  figcaption strong { font-size: 7pt; }
  figcaption .mark { border: 2px solid #000; }
}
)css";

}  // namespace glassine::job
