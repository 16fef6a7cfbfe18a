// page.mjs PAGE CHROMIUM OUT COMMIT: how fast the built page answers in Chromium. Writes OUT.txt and OUT.json.
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { cpus } from 'node:os';
import { basename, join, resolve } from 'node:path';
import { gzipSync } from 'node:zlib';
import { tapOwnDay } from '../web/tests/browser/own_day.mjs';
import { serve } from '../web/tests/browser/serve.mjs';

const { chromium } = createRequire(new URL('../web/package.json', import.meta.url))('playwright-core');
const [folder, executablePath, out, commit = 'unknown'] = process.argv.slice(2);
const root = resolve(folder);
const kTurns = 60;
const kOddsRuns = 5;
const kReadings = 12;
const kWaitMs = 120_000;

const gzipped = (path) => gzipSync(readFileSync(path), { level: 9 }).length;
// Nearest rank.
const at = (values, share) => [...values].sort((a, b) => a - b)[Math.max(0, Math.ceil(share * values.length) - 1)];
const both = (values) => ({ median: at(values, 0.5), p95: at(values, 0.95), count: values.length });

// In the page: every question to a worker and its answer, and from the click to the frame after the strip's shapes changed.
function watch() {
  globalThis.asked = [];
  globalThis.painted = [];
  const post = Worker.prototype.postMessage;
  const known = new WeakMap();
  Worker.prototype.postMessage = function (message, ...more) {
    let open = known.get(this);
    if (!open) {
      open = new Map();
      known.set(this, open);
      this.addEventListener('message', ({ data }) => {
        const sent = open.get(data.id);
        if (sent) globalThis.asked.push({ ask: sent.ask, quick: sent.quick, weighed: Boolean(data.answer?.track), ms: performance.now() - sent.at, at: performance.now() });
      });
    }
    open.set(message.id, { ask: message.question?.ask, quick: Boolean(message.question?.quick), at: performance.now() });
    return post.call(this, message, ...more);
  };
  let clicked = null;
  addEventListener('click', (event) => (clicked = event.timeStamp), { capture: true });
  const seen = new MutationObserver((changes) => {
    if (clicked === null) return;
    if (!changes.some((change) => change.target.closest?.('.strip svg'))) return;
    const from = clicked;
    clicked = null;
    // The frame's own callback, then a message behind it: after layout and paint were done.
    requestAnimationFrame(() => {
      const { port1, port2 } = new MessageChannel();
      port1.onmessage = () => globalThis.painted.push(performance.now() - from);
      port2.postMessage(0);
    });
  });
  addEventListener('DOMContentLoaded', () => seen.observe(document, { subtree: true, childList: true, attributes: true, characterData: true }));
}

const server = await serve(root);
const address = `http://127.0.0.1:${server.address().port}/`;
const browser = await chromium.launch({ executablePath, args: ['--no-sandbox'] });
try {
  // Waiting for a condition is evaluated text, which the page's own policy forbids.
  const context = await browser.newContext({ bypassCSP: true, viewport: { width: 390, height: 844 } });
  await context.addInitScript(watch);
  const page = await context.newPage();
  const first = new Set();
  let loading = true;
  page.on('request', (request) => loading && request.url().startsWith(address) && first.add(new URL(request.url()).pathname));
  const answered = () =>
    page.waitForFunction(() => /Safe to|Lasts past|as stated|Dark at/.test(document.querySelector('h1')?.textContent ?? ''), undefined, { timeout: kWaitMs });
  const quiet = () => page.waitForFunction(() => document.querySelector('main')?.textContent?.includes('days reach off'), undefined, { timeout: kWaitMs });

  const opened = performance.now();
  await page.goto(address);
  await answered();
  const first_answer_ms = performance.now() - opened;
  loading = false;
  await quiet();
  const bytes = [...first].map((path) => ({ path, gzip: gzipped(join(root, path.endsWith('/') ? `${path}index.html` : path)) }));
  const engines = Object.fromEntries(
    readdirSync(join(root, 'assets')).filter((name) => name.endsWith('.wasm')).map((name) => [basename(name).replace(/-.{8}\.wasm$/, ''), gzipped(join(root, 'assets', name))]),
  );

  await page.evaluate(() => ((globalThis.asked = []), (globalThis.painted = [])));
  for (let k = 0; k < kTurns; ++k) {
    const was = await page.evaluate(() => globalThis.painted.length);
    await page.getByRole('button', { name: k % 20 < 10 ? 'air, less' : 'air, more' }).click();
    await page.waitForFunction((n) => globalThis.painted.length > n, was, { timeout: kWaitMs });
    await page.waitForTimeout(400);
  }
  const trip = both((await page.evaluate(() => globalThis.asked)).filter((one) => one.ask === 'forecast' && one.quick).map((one) => one.ms));
  const paint = both(await page.evaluate(() => globalThis.painted));
  const back = page.getByRole('button', { name: 'Put it back' });
  if (await back.count()) await back.click();
  await quiet();

  const odds_ms = [];
  for (let k = 0; k < kOddsRuns; ++k) {
    await page.reload();
    await answered();
    await quiet();
    const count = page.getByRole('button', { name: 'Count 10,000 days' });
    await count.waitFor({ timeout: kWaitMs });
    const start = performance.now();
    await count.click();
    await page.waitForFunction(() => /10.?000 days reach off/.test(document.querySelector('main')?.textContent ?? ''), undefined, { timeout: kWaitMs, polling: 20 });
    odds_ms.push(performance.now() - start);
  }
  const odds = both(odds_ms);

  // A script taps without reading: the seconds are the page's.
  const started = performance.now();
  const taps = await tapOwnDay(page);
  await page.getByText(/^My day$/).first().waitFor({ timeout: kWaitMs });
  await quiet(); // with its odds
  const own = { taps, seconds: (performance.now() - started) / 1000 };

  // On set in the afternoon: from the click that keeps a reading to the day as it stands, and to what the readings say.
  const on_set = await browser.newContext({ bypassCSP: true, viewport: { width: 390, height: 844 } });
  await on_set.addInitScript(watch);
  await on_set.clock.setFixedTime(new Date('2026-11-25T15:00:00'));
  const set = await on_set.newPage();
  await set.goto(`${address}#set`);
  const weighed = () => set.waitForFunction(() => globalThis.asked.some((one) => one.weighed), undefined, { timeout: kWaitMs });
  await weighed();
  const stands_ms = [];
  const weighed_ms = [];
  for (let k = 0; k < kReadings; ++k) {
    await set.evaluate(() => (globalThis.asked = []));
    const [point, of, value] = k % 2 === 0 ? ['input volts', 'recorder', `${15.9 - 0.01 * k}`] : ['pack gauge %', 'C2', `${30 - k}`];
    for (const name of ['Reading', point, of]) await set.getByRole('button', { name, exact: true }).click();
    await set.getByRole('textbox').fill(value);
    const saved = set.getByRole('button', { name: 'Save' });
    await saved.evaluate((button) => button.addEventListener('click', () => (globalThis.saved_at = performance.now()), { capture: true }));
    await saved.click();
    await weighed();
    const { saved_at, asked } = await set.evaluate(() => ({ saved_at: globalThis.saved_at, asked: globalThis.asked }));
    stands_ms.push(asked.find((one) => one.ask === 'stands').at - saved_at);
    weighed_ms.push(asked.find((one) => one.weighed).at - saved_at);
    await set.waitForTimeout(400);
  }
  await on_set.close();
  const stood = both(stands_ms);
  const read = both(weighed_ms);

  const total = bytes.reduce((sum, one) => sum + one.gzip, 0);
  const cpu = cpus();
  const result = {
    machine: `${cpu[0]?.model.trim()}, ${cpu.length} threads`,
    browser: `Chromium ${browser.version()}`,
    node: process.version,
    commit,
    what_if_round_trip_ms: { ...trip, goal: 16 },
    what_if_to_paint_ms: paint,
    odds_10000_ms: { ...odds, goal: 2000, aim: 1000 },
    on_set_ms: { stands: stood, weighed: { ...read, goal: 300 } },
    first_answer_ms,
    first_load_gzip_bytes: { total, goal: 600_000, files: bytes },
    engine_gzip_bytes: { ...engines, goal: 400_000 },
    own_day: { ...own, goal_taps: 30, goal_seconds: 120 },
  };
  const met = (yes) => (yes ? 'met' : 'NOT met');
  const kb = (value) => `${(value / 1000).toFixed(0)} kB`;
  const dayEngine = engines['tillwrap-day'];
  const lines = [
    `the page, ${result.browser}`,
    `${result.machine}; commit ${commit}`,
    '',
    `what-if, engine and back   ${trip.median.toFixed(1)} ms median, ${trip.p95.toFixed(1)} ms 95th percentile of ${trip.count}`,
    `                           goal 16 ms: median ${met(trip.median < 16)}, 95th ${met(trip.p95 < 16)}`,
    `what-if, tap to paint      ${paint.median.toFixed(1)} ms median, ${paint.p95.toFixed(1)} ms 95th percentile of ${paint.count}`,
    `10,000 days of odds        ${(odds.median / 1000).toFixed(2)} s median, ${(odds.p95 / 1000).toFixed(2)} s slowest of ${odds.count}; goal 2 s: ${met(odds.p95 < 2000)}`,
    `reading kept to weighed    ${read.median.toFixed(0)} ms median, ${read.p95.toFixed(0)} ms slowest of ${read.count}; the day as it stands ${stood.median.toFixed(0)} ms; goal 300 ms: ${met(read.median < 300)}`,
    `opened to first answer     ${(first_answer_ms / 1000).toFixed(2)} s, over loopback`,
    `first load, gzip -9        ${kb(total)}; goal 600 kB: ${met(total <= 600_000)}`,
    `day engine, gzip -9        ${kb(dayEngine)}; goal 400 kB: ${met(dayEngine <= 400_000)}`,
    `whole engine, gzip -9      ${kb(engines.tillwrap)}, loaded when first needed; goal 400 kB: ${met(engines.tillwrap <= 400_000)}`,
    `own day, empty to answer   ${own.taps} taps, ${own.seconds.toFixed(1)} s by script; goal 30 taps, 120 s: ${met(own.taps <= 30 && own.seconds <= 120)}`,
  ];
  writeFileSync(`${out}.json`, `${JSON.stringify(result, null, 2)}\n`);
  writeFileSync(`${out}.txt`, `${lines.join('\n')}\n`);
  console.log(lines.join('\n'));
} finally {
  await browser.close();
  server.close();
}
