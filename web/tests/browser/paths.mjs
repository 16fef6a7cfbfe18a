// paths.mjs PAGE CHROMIUM [PICTURES]: the paths a recordist takes, in Debian's Chromium; axe on each room; no console
// error; nothing asked of any other host. Exits 1 at the first that fails.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { resolve } from 'node:path';
import { chromium } from 'playwright-core';
import { serve } from './serve.mjs';

const [root, executablePath, pictures] = process.argv.slice(2);
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const server = await serve(resolve(root));
const address = `http://127.0.0.1:${server.address().port}/`;
const browser = await chromium.launch({ executablePath, args: ['--no-sandbox'] });
const complaints = [];

async function visit(options) {
  // axe is put in by the test, past the page's own policy.
  const context = await browser.newContext({ bypassCSP: true, timezoneId: 'UTC', ...options });
  const page = await context.newPage();
  await page.clock.setFixedTime(new Date('2026-11-25T14:45:00Z')); // in the afternoon of the demo day
  page.on('console', (message) => message.type() === 'error' && complaints.push(message.text()));
  page.on('pageerror', (error) => complaints.push(error.message));
  page.on('request', (request) => {
    const url = new URL(request.url());
    if (url.protocol.startsWith('http') && url.origin !== new URL(address).origin) complaints.push(`asks ${url.origin}`);
  });
  return page;
}
const step = async (name, act) => {
  const start = performance.now();
  await act();
  console.log(`${name}: ${Math.round(performance.now() - start)} ms`);
};
const computed = (page) => page.waitForFunction(() => /Safe to|Lasts past|Likely to/.test(document.querySelector('h1')?.textContent ?? ''), undefined, { timeout: 120_000 });
const quiet = (page) => page.waitForFunction(() => document.querySelector('main')?.textContent?.includes('days reach off'), undefined, { timeout: 120_000 });

try {
  const page = await visit({ viewport: { width: 390, height: 844 } });
  await step('the demo day is there at once', async () => {
    await page.goto(address);
    await computed(page);
    await page.waitForSelector('svg polygon');
    await quiet(page);
  });
  const safe = async () => (await page.textContent('h1')).trim();
  const before = await safe();
  await step('colder: the strip answers, and goes back', async () => {
    await page.getByRole('button', { name: 'air, less' }).click();
    await page.waitForFunction((was) => document.querySelector('h1')?.textContent?.trim() !== was, before, { timeout: 60_000 });
    await page.getByRole('button', { name: 'Put it back' }).click();
    await quiet(page);
    assert.equal(await safe(), before);
  });
  await step('kept, undone, after a reload too', async () => {
    await page.getByRole('button', { name: 'load, more' }).click();
    await page.getByRole('button', { name: 'Keep it' }).click();
    await quiet(page);
    const heavier = await safe();
    assert.notEqual(heavier, before);
    await page.reload();
    await computed(page);
    await quiet(page);
    assert.equal(await safe(), heavier);
    await page.getByRole('button', { name: /^Undo/ }).click();
    await page.waitForFunction((was) => document.querySelector('h1')?.textContent?.trim() === was, before, { timeout: 60_000 });
  });
  await step('on set: a change entered ten minutes ago survives a reload and is taken back', async () => {
    await page.goto(`${address}#set`);
    await page.getByRole('button', { name: 'Changed the pack' }).waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Just now' }).click();
    await page.getByRole('button', { name: 'Changed the pack' }).click();
    await page.getByRole('button', { name: 'cup', exact: true }).click();
    await page.getByRole('button', { name: 'C2', exact: true }).click();
    await page.getByText('C2 into cup').waitFor();
    await page.reload();
    await page.getByText('C2 into cup').waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Undo', exact: true }).click();
    await page.getByText('C2 into cup').waitFor({ state: 'detached' });
  });
  await step('a reading that cannot be is refused beside its field and kept', async () => {
    await page.getByRole('button', { name: 'Reading' }).click();
    await page.getByRole('button', { name: 'pack gauge %' }).click();
    await page.getByRole('textbox').fill('145');
    await page.getByRole('button', { name: 'Save' }).click();
    await page.getByRole('alert').waitFor();
    assert.equal(await page.getByRole('textbox').inputValue(), '145');
    await page.getByRole('button', { name: 'Cancel' }).click();
    await page.getByRole('button', { name: 'Cancel' }).click();
  });
  await step('set & wire: meters and findings', async () => {
    await page.goto(`${address}#wire`);
    await page.getByText(/warn \d/).first().waitFor({ timeout: 120_000 });
    await page.locator('.drawing svg').waitFor({ timeout: 120_000 });
  });
  await step('travel: two travellers may', async () => {
    await page.goto(`${address}#travel`);
    await page.locator('.verdict').waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'travellers, more' }).click();
    await page.getByText('2 people may carry it all').waitFor({ timeout: 60_000 });
  });
  await step('with the network off', async () => {
    await page.evaluate(() => navigator.serviceWorker.ready);
    await page.goto(address);
    await computed(page);
    await page.context().setOffline(true);
    await page.reload();
    await computed(page);
    await page.context().setOffline(false);
  });
  for (const theme of ['black', 'sunlight']) {
    for (const room of ['evening', 'wire', 'travel', 'set', 'sheet']) {
      await page.goto(`${address}#${room}`);
      const other = page.getByRole('button', { name: theme === 'black' ? 'Black' : 'Sunlight', exact: true });
      await page.getByRole('button', { name: /^(Black|Sunlight)$/ }).waitFor({ timeout: 60_000 });
      if (await other.count()) await other.click();
      const done = { evening: 'svg polygon', wire: '.drawing svg', travel: '.verdict', set: 'dl', sheet: 'header h1' }[room];
      await page.locator(done).first().waitFor({ timeout: 180_000 });
      await page.evaluate(axe);
      const { violations } = await page.evaluate(() => globalThis.axe.run());
      for (const violation of violations)
        complaints.push(`axe, ${room}, ${theme}: ${violation.id}: ${violation.nodes.map((node) => node.target.join(' ')).slice(0, 3).join('; ')}`);
      if (pictures) await page.screenshot({ path: `${pictures}/${room}-${theme}.png`, fullPage: false });
    }
  }
  assert.deepEqual(complaints, []);
} finally {
  await browser.close();
  server.close();
}
