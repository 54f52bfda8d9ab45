#pragma once

#include <string_view>

namespace glassine::report {

/// What the shelf's page has beside the look of all pages (job/page_style.h).
inline constexpr std::string_view overview_style = R"css(
h3 small { font: 400 1rem/1.2 system-ui, sans-serif; color: var(--faint); }
table { width: 100%; }
.jobs th:first-child { width: 40%; }
.jobs td:nth-child(2) { width: 22%; }
.copies { list-style: none; margin: 0; padding: 0; }
.copies li { display: inline-block; margin: 0 .9rem .15rem 0; white-space: nowrap; }
.map { width: auto; }
.map th, .map td { text-align: left; padding-right: .8rem; }
.map th { white-space: nowrap; }
.map .word { margin-right: .3rem; }
form p { margin: 0; }
form { display: flex; flex-wrap: wrap; gap: .75rem 1.25rem; align-items: end; margin: 1rem 0; }
#shown { margin: .5rem 0; }
form[hidden], tr[hidden], section[hidden] { display: none; }
label { display: block; color: var(--faint); font-size: .9rem; }
input, select {
  display: block; font: inherit; color: var(--ink); background: var(--paper);
  border: 1px solid var(--rule); border-radius: 0; padding: .35rem .5rem; min-height: 2.25rem;
}
input { min-width: min(22rem, 90vw); }
input:focus-visible, select:focus-visible { outline: 3px solid var(--link); outline-offset: 2px; }
@media (max-width: 40rem) {
  .drives { min-width: 46rem; }
  .jobs thead { position: absolute; clip-path: inset(50%); }
  .jobs tr { display: block; border-top: 1px solid var(--rule); padding: .4rem 0; }
  .jobs th, .jobs td, .jobs th:first-child, .jobs td:nth-child(2) { display: block; width: auto; border: 0; padding: .1rem 0; }
}
@media print {
  form p { margin: 0; }
form { display: none; }
}
)css";

/// Searching and filtering. A row answers to its words as they are shown and in plain Latin letters
/// (`data-words`); neither case nor accents matter. What is typed without a blank is found as it
/// stands: "K-77" is not K-177.
inline constexpr std::string_view overview_script = R"js(
const form = document.getElementById('filter');
const rows = [...document.querySelectorAll('.jobs tbody tr')];
const years = [...document.querySelectorAll('section.year')];
const fold = t => t.toUpperCase().toLowerCase().replace(/ς/g, 'σ').normalize('NFD').replace(/\p{M}/gu, '').replace(/[^\p{L}\p{N}]+/gu, ' ').trim();
for (const row of rows) row.words = row.dataset.words + ' ' + fold(row.cells[0].textContent);
function apply() {
  const words = form.elements.words.value.split(/\s+/).map(fold).filter(Boolean);
  const state = form.elements.state.value;
  const drive = form.elements.drive.value;
  let shown = 0;
  for (const row of rows) {
    const hit = words.every(w => row.words.includes(w)) &&
      (!state || row.dataset.state.split(' ').includes(state)) &&
      (!drive || row.dataset.drives.split(' ').includes(drive));
    row.hidden = !hit;
    if (hit) shown++;
  }
  for (const year of years) year.hidden = !year.querySelector('tbody tr:not([hidden])');
  document.getElementById('shown').textContent = shown === 1 ? '1 job is shown' : shown + ' jobs are shown';
}
form.hidden = false;
form.addEventListener('input', apply);
form.addEventListener('submit', e => e.preventDefault());
apply();
)js";

}  // namespace glassine::report
