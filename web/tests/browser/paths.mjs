// paths.mjs PAGE CHROMIUM [PICTURES]: the paths a recordist takes, in Debian's Chromium; axe on each room; no console
// error; nothing asked of any other host. Exits 1 at the first that fails.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { resolve } from 'node:path';
import { chromium } from 'playwright-core';
import { tapOwnDay } from './own_day.mjs';
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
// An export without the moment it was made.
const whatIsKept = (bytes) => {
  const { days, facts } = JSON.parse(bytes.toString('utf8'));
  return { days, facts };
};
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
  await step('an own kit by taps', async () => {
    await page.goto(`${address}#evening`);
    await computed(page);
    const taps = await tapOwnDay(page);
    await page.getByText(/^My day$/).first().waitFor({ timeout: 60_000 });
    await quiet(page);
    console.log(`  ${taps} taps`);
    assert.ok(taps <= 30);
  });
  await step('one file out; a broken one changes nothing and says where; the whole one comes back', async () => {
    const names = () => page.locator('section[aria-label="My days"] li b').allTextContents();
    const open = async () => {
      await page.getByRole('button', { name: 'My days', exact: true }).click();
      await page.locator('section[aria-label="My days"] li').first().waitFor();
    };
    await open();
    const had = (await names()).sort();
    assert.equal(had.length, 2);
    const saved = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Save everything to one file' }).click();
    const kept = readFileSync(await (await saved).path());
    const give = (buffer) => page.locator('input[type=file]').setInputFiles({ name: 'days.json', mimeType: 'application/json', buffer });
    await give(kept.subarray(0, Math.floor(kept.length / 2)));
    await page.locator('[role=alert]').first().waitFor();
    const complaint = await page.locator('[role=alert]').first().textContent();
    assert.match(complaint.trim(), /^This is no tillwrap file: .*position \d+.* Nothing was changed\.$/);
    assert.deepEqual((await names()).sort(), had);
    const again = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Save everything to one file' }).click();
    assert.deepEqual(whatIsKept(readFileSync(await (await again).path())), whatIsKept(kept));
    await page.getByRole('button', { name: 'Delete My day', exact: true }).click();
    await page.waitForFunction(() => document.querySelectorAll('section[aria-label="My days"] li').length === 1);
    await give(kept);
    await page.getByText(/^Read: /).waitFor();
    assert.deepEqual([...new Set(await names())].sort(), had);
    await page.getByRole('button', { name: /^Open Saltmarsh/ }).first().click();
    await quiet(page);
  });
  await step('undone and done again', async () => {
    const was = await safe();
    await page.getByRole('button', { name: 'load, more' }).click();
    await page.getByRole('button', { name: 'Keep it' }).click();
    await quiet(page);
    const heavier = await safe();
    await page.getByRole('button', { name: /^Undo/ }).click();
    await quiet(page);
    assert.equal(await safe(), was);
    await page.getByRole('button', { name: /^Redo/ }).click();
    await quiet(page);
    assert.equal(await safe(), heavier);
    await page.getByRole('button', { name: /^Undo/ }).click();
    await quiet(page);
  });
  await step('the sheet prints its own verdict', async () => {
    await page.goto(`${address}#sheet`);
    await page.locator('header h1').waitFor({ timeout: 180_000 });
    assert.ok((await page.locator('main section').count()) >= 3);
    await page.emulateMedia({ media: 'print' });
    assert.equal(await page.locator('nav').isVisible(), false);
    await page.emulateMedia({ media: 'screen' });
  });
  const ready = { evening: 'svg polygon', wire: '.drawing svg', travel: '.verdict', set: 'dl', sheet: 'header h1' };
  for (const [width, text] of [[360, 100], [1600, 100], [360, 200]]) {
    await step(`${width} px, text at ${text} %: nothing runs off the side, everything can be reached by keys`, async () => {
      await page.setViewportSize({ width, height: 844 });
      for (const room of Object.keys(ready)) {
        await page.goto(`${address}#${room}`);
        await page.locator(ready[room]).first().waitFor({ timeout: 180_000 });
        await page.evaluate((size) => (document.documentElement.style.fontSize = `${size}%`), text);
        await page.waitForTimeout(200);
        const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        if (over > 0) complaints.push(`${room}, ${width} px, ${text} %: ${over} px too wide`);
        const cut = await page.evaluate(() =>
          [...document.querySelectorAll('button, a, input, select, summary')]
            .filter((one) => one.getClientRects().length > 0 && !one.closest('.scroll') && one.type !== 'file')
            .filter((one) => one.getBoundingClientRect().right > innerWidth + 1 || one.getBoundingClientRect().left < -1)
            .map((one) => one.textContent.trim().slice(0, 30)));
        if (cut.length) complaints.push(`${room}, ${width} px, ${text} %: out of sight: ${cut.join('; ')}`);
        if (text === 100) {
          // Round the page with the tab key: each control once, each with an outline.
          const wanted = await page.evaluate(() => {
            document.activeElement?.blur();
            return [...document.querySelectorAll('button:not(:disabled), a[href], select, summary')].filter((one) => one.getClientRects().length > 0 && one.tabIndex >= 0).length;
          });
          const met = await page.evaluate(() => ((globalThis.met = new Set()), 0));
          let plain = met;
          let count = 0;
          for (let k = 0; k < wanted + 60 && count < wanted; ++k) {
            await page.keyboard.press('Tab');
            [count, plain] = await page.evaluate((was) => {
              const one = document.activeElement;
              if (one === document.body) return [globalThis.met.size, was];
              if (one.matches('button, a, select, summary')) globalThis.met.add(one);
              const seen = getComputedStyle(one);
              return [globalThis.met.size, was + (seen.outlineStyle === 'none' && one.type !== 'file' ? 1 : 0)];
            }, plain);
          }
          if (count < wanted) complaints.push(`${room}, ${width} px: keys reach ${count} of ${wanted} controls`);
          if (plain > 0) complaints.push(`${room}, ${width} px: ${plain} without a visible focus`);
        }
      }
    });
  }
  await page.reload();
  await page.setViewportSize({ width: 390, height: 844 });
  for (const theme of ['black', 'sunlight']) {
    for (const room of Object.keys(ready)) {
      await page.goto(`${address}#${room}`);
      const other = page.getByRole('button', { name: theme === 'black' ? 'Black' : 'Sunlight', exact: true });
      await page.getByRole('button', { name: /^(Black|Sunlight)$/ }).waitFor({ timeout: 60_000 });
      if (await other.count()) await other.click();
      await page.locator(ready[room]).first().waitFor({ timeout: 180_000 });
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
