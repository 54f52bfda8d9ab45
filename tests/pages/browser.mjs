// browser.mjs CHECKERS PAGES BROWSER: opens every page below PAGES in a headless Chromium and says what is wrong with
// it, one line each. Rules: axe-core's (WCAG 2.2 and its best practices), in light and dark; nothing is fetched, no
// script of a stranger runs; all can be read without scripts; no page has to be scrolled sideways, on a desktop or phone.

import fs from 'node:fs';
import { createRequire } from 'node:module';
import path from 'node:path';
import { pathToFileURL } from 'node:url';

const [checkers, folder, executablePath] = process.argv.slice(2);
const require = createRequire(pathToFileURL(path.join(checkers, 'package.json')));
const { chromium } = require('playwright-core');
const axe = fs.readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

let wrong = 0;
const complain = (page, what) => { wrong += 1; console.log(`${page}: ${what}`); };
const check = (page, holds, what) => { if (!holds) complain(page, what); };

/// All HTML below the folder.
function pages(at, found = []) {
  for (const entry of fs.readdirSync(at, { withFileTypes: true })) {
    const name = path.join(at, entry.name);
    if (entry.isDirectory()) pages(name, found);
    else if (name.endsWith('.html')) found.push(name);
  }
  return found.sort();
}

/// A page that tells of every request, dialog and error.
async function open(browser, file, options = {}) {
  const context = await browser.newContext(options);
  const page = await context.newPage();
  const name = path.relative(folder, file);
  page.setDefaultTimeout(180000);
  page.on('dialog', d => { complain(name, `a script of a stranger ran: ${d.message()}`); d.dismiss(); });
  page.on('pageerror', e => complain(name, `error: ${e.message}`));
  page.on('console', m => { if (m.type() === 'error') complain(name, `console: ${m.text()}`); });
  page.on('request', r => {
    if (!/^(file|data):/.test(r.url())) complain(name, `fetches ${r.url()}`);
  });
  const begun = Date.now();
  await page.goto(pathToFileURL(file).href, { waitUntil: 'load' });
  return { page, name, milliseconds: Date.now() - begun, close: () => context.close() };
}

/// On a desktop in light, on a phone in dark.
async function look(browser, file, width, colorScheme) {
  // Without the page's policy, so that axe-core may run in it, and so that a stranger's script would.
  const { page, name, close } = await open(browser, file, { viewport: { width, height: 800 }, colorScheme, bypassCSP: true });
  const reaches = await page.evaluate(() => document.documentElement.scrollWidth);
  check(name, reaches <= width, `${width} wide: reaches to ${reaches}`);
  const links = await page.evaluate(() => [...document.querySelectorAll('[href], [src]')].map(
    e => e.getAttribute('href') ?? e.getAttribute('src')));
  for (const link of links)
    check(name, !/^(?!data:)([a-z]+:|\/\/)/i.test(link), `leads outside: ${link.slice(0, 160)}`);
  const lost = await page.evaluate(() => [...document.images].filter(i => i.complete && !i.naturalWidth).length);
  check(name, lost === 0, `${lost} pictures cannot be shown`);
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  for (const v of violations)
    complain(name, `${colorScheme}: ${v.id}: ${v.help} (${v.nodes.length}; ${v.nodes[0].html.slice(0, 160)})`);
  await close();
}

async function without_script(browser, file) {
  const { page, name, close } = await open(browser, file, { javaScriptEnabled: false });
  const hidden = await page.locator('main :not(form[hidden], form[hidden] *, title, defs, defs *, option)').evaluateAll(
    all => all.filter(e => !e.checkVisibility() && !e.closest('details')).length);
  check(name, hidden === 0, `${hidden} parts cannot be seen without a script`);
  await close();
}

/// Searching and filtering, as a person does.
async function overview(browser, file, jobs) {
  const { page, name, milliseconds, close } = await open(browser, file);
  console.log(`(${name}: ${(fs.statSync(file).size / 1e6).toFixed(2)} MB, loaded in ${milliseconds} ms)`);
  check(name, fs.statSync(file).size < 3e6, 'it has 3 MB or more');
  const rows = page.locator('.jobs tbody tr:visible');
  const words = page.getByLabel('Client, description, number or day');
  const expect = async (what, wanted) => {
    const got = await rows.count();
    check(name, got === wanted, `${what}: ${got} jobs are shown, not ${wanted}`);
    const says = await page.getByRole('status').textContent();
    check(name, says === (wanted === 1 ? '1 job is shown' : `${wanted} jobs are shown`), `${what}: it says "${says}"`);
  };
  const all = await page.locator('.jobs tbody tr').evaluateAll(trs => trs.map(tr => tr.textContent));
  check(name, all.length === jobs, `${all.length} jobs, not ${jobs}`);
  const with_text = part => all.filter(text => part.every(p => text.includes(p))).length;
  await expect('at first', jobs);
  await words.fill('JOB-123');
  await expect('a name', 1);
  // By letters with and without their marks, and by parts of words in any order.
  for (const [typed, shown] of [['søren ødegård', ['Søren', 'Ødegård']], ['odegard SOREN', ['Søren', 'Ødegård']],
    ['strasse', ['Straße']], ['straße', ['Straße']], ['lea', ['Léa']], ['gala 2019', ['gala', '2019-']], ['k-77', ['K-77']]]) {
    await words.fill(typed);
    const got = await rows.allTextContents();
    check(name, got.length > 0 && got.every(text => shown.every(s => text.includes(s))), `"${typed}" finds others`);
    await expect(typed, with_text(shown));
  }
  await words.fill('nobody of that name');
  await expect('no such job', 0);
  check(name, await page.locator('section.year:visible').count() === 0, 'years without a job are shown');
  await words.fill('');
  for (const [state, sign] of [['bad', /[✕?] SHELF/], ['old', /[◐○] SHELF/], ['due', /due:/]]) {
    await page.getByLabel('Show').selectOption(state);
    await expect(state, all.filter(text => sign.test(text)).length);
  }
  await page.getByLabel('Show').selectOption('');
  await page.getByLabel('On', { exact: true }).selectOption({ label: 'SHELF-03 (office server)' });
  await expect('one volume', all.filter(text => /[●◐○✕] SHELF-03/.test(text)).length);
  await words.press('Enter');
  check(name, !page.url().includes('?'), 'Enter sends the form');
  await close();
}

/// The drawing of a label as it is printed, for a reader of codes; and how many sheets labels fill.
async function labels(browser, file) {
  const { page, name, close } = await open(browser, file, { deviceScaleFactor: 2 });
  await page.locator('.labels svg').first().screenshot({ path: path.join(folder, 'label.png') });
  const count = await page.locator('.labels > li').count();
  const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
  const sheets = (pdf.match(/\/Type \/Page\b/g) ?? []).length;
  check(name, count === 8 && sheets === 1, `${count} labels fill ${sheets} sheets`);
  await close();
}

/// For people to look at: GLASSINE_PAGE_SHOTS names a folder.
async function shoot(browser, file, into) {
  const name = path.relative(folder, file).replace(/[^\w]+/g, '-');
  for (const [size, width, colorScheme] of [['desktop', 1280, 'light'], ['dark', 1280, 'dark'], ['phone', 390, 'light']]) {
    const { page, close } = await open(browser, file, { viewport: { width, height: 1600 }, colorScheme });
    await page.screenshot({ path: path.join(into, `${name}-${size}.png`) });
    if (size === 'desktop') await page.pdf({ path: path.join(into, `${name}.pdf`), preferCSSPageSize: true, format: 'A4' });
    await close();
  }
}

const browser = await chromium.launch({ executablePath, args: ['--no-sandbox', '--disable-gpu'] });
const found = pages(folder);
for (const file of found) {
  await look(browser, file, 1280, 'light');
  await look(browser, file, 390, 'dark');
  await without_script(browser, file);
  if (process.env.GLASSINE_PAGE_SHOTS) await shoot(browser, file, process.env.GLASSINE_PAGE_SHOTS);
}
await overview(browser, path.join(folder, 'overview-500.html'), 500);
await labels(browser, path.join(folder, 'labels.html'));
await browser.close();
console.log(`${found.length} pages, ${wrong} complaints`);
process.exit(wrong ? 1 : 0);
