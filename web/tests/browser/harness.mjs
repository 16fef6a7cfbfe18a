// What every path of the browser tests needs: the page over loopback, a browser that notes every console error and every
// question to another host.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { resolve } from 'node:path';
import { chromium } from 'playwright-core';
import { serve } from './serve.mjs';

const axe_source = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

// Each room, with what is there when it is ready.
export const ready = { evening: 'svg polygon', wire: '.drawing svg', travel: '.verdict', set: 'dl', after: '.verdict', years: 'article', sheet: 'header h1' };

export async function start(root, executablePath) {
  const server = await serve(resolve(root));
  const address = `http://127.0.0.1:${server.address().port}/`;
  const browser = await chromium.launch({ executablePath, args: ['--no-sandbox'] });
  const complaints = [];

  async function visit({ own = address, ...options }) {
    // axe is put in by the test, past the page's own policy.
    const context = await browser.newContext({ bypassCSP: true, timezoneId: 'UTC', ...options });
    const page = await context.newPage();
    await page.clock.setFixedTime(new Date('2026-11-25T14:45:00Z')); // in the afternoon of the demo day
    page.on('console', (message) => message.type() === 'error' && complaints.push(message.text()));
    page.on('pageerror', (error) => complaints.push(error.message));
    page.on('request', (request) => {
      const url = new URL(request.url());
      if (url.protocol.startsWith('http') && url.origin !== new URL(own).origin) complaints.push(`asks ${url.origin}`);
    });
    return page;
  }
  const close = async () => {
    await browser.close();
    server.close();
  };
  return { root, address, browser, complaints, visit, close };
}

// A journal of some years and a night planned, for rooms that are empty without.
export async function furnished(page, address) {
  const journal = readFileSync(new URL('../../../examples/three-years.jsonl', import.meta.url));
  await page.goto(`${address}#years`);
  await page.locator('.acts input[type=file]').setInputFiles({ name: 'journal.jsonl', mimeType: 'application/x-ndjson', buffer: journal });
  await page.locator(ready.years).first().waitFor({ timeout: 120_000 });
  await page.goto(`${address}#after`);
  await page.getByRole('button', { name: 'Plan the night' }).click();
  await page.locator(ready.after).waitFor({ timeout: 180_000 });
}

export async function step(name, act) {
  const start = performance.now();
  await act();
  console.log(`${name}: ${Math.round(performance.now() - start)} ms`);
}

export async function axe(page, complaints, where) {
  await page.evaluate(axe_source);
  const { violations } = await page.evaluate(() => globalThis.axe.run());
  for (const violation of violations)
    complaints.push(`axe, ${where}: ${violation.id}: ${violation.nodes.map((node) => node.target.join(' ')).slice(0, 3).join('; ')}`);
}

export const safe = async (page) => (await page.textContent('h1')).trim();
export const computed = (page) => page.waitForFunction(() => /Safe to|Lasts past|Likely to/.test(document.querySelector('h1')?.textContent ?? ''), undefined, { timeout: 120_000 });
export const quiet = (page) => page.waitForFunction(() => document.querySelector('main')?.textContent?.includes('days reach off'), undefined, { timeout: 120_000 });
