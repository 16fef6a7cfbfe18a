// What every path of the browser tests needs: the page over loopback, a browser that notes every console error and every
// question to another host.
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { chromium } from 'playwright-core';
import { serve } from './serve.mjs';

const axe_source = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

// Each room, with what is there when it is ready.
export const ready = { evening: 'svg polygon', wire: '.drawing svg', travel: '.verdict', set: 'dl', after: '.verdict', years: 'article', sheet: 'header h1' };

export async function start(root, executablePath) {
  const server = await serve(resolve(root));
  const address = `http://127.0.0.1:${server.address().port}/`;
  const complaints = [];
  const said = []; // by the pages, all of it: why, when a path fails
  const profiles = mkdtempSync(join(tmpdir(), 'tillwrap-browser-'));
  const contexts = [];

  // Each visit in a profile of its own on disk, as a recordist's browser has it: without one Chromium keeps what a page stores
  // in memory only.
  async function visit({ own = address, ...options }) {
    // axe is put in by the test, past the page's own policy.
    const profile = mkdtempSync(join(profiles, 'visit-'));
    const context = await chromium.launchPersistentContext(profile, { executablePath, args: ['--no-sandbox'], bypassCSP: true, timezoneId: 'UTC', ...options });
    contexts.push(context);
    const page = context.pages()[0] ?? (await context.newPage());
    await page.clock.setFixedTime(new Date('2026-11-25T14:45:00Z')); // in the afternoon of the demo day
    page.on('console', (message) => {
      said.push(`${message.type()}: ${message.text()}`);
      if (message.type() === 'error') complaints.push(message.text());
    });
    page.on('pageerror', (error) => complaints.push(error.message));
    page.on('request', (request) => {
      const url = new URL(request.url());
      if (url.protocol.startsWith('http') && url.origin !== new URL(own).origin) complaints.push(`asks ${url.origin}`);
    });
    return page;
  }
  async function told() {
    for (const page of contexts.flatMap((context) => context.pages())) console.error('it says:', await page.locator('[role=alert]').allTextContents());
    console.error('its console:', said);
  }
  async function close() {
    for (const context of contexts) await context.close();
    rmSync(profiles, { recursive: true, force: true });
    server.close();
  }
  return { root, address, complaints, visit, told, close };
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
export const computed = (page) => page.waitForFunction(() => /Safe to|Lasts past|as stated/.test(document.querySelector('h1')?.textContent ?? ''), undefined, { timeout: 120_000 });
export const quiet = (page) => page.waitForFunction(() => document.querySelector('main')?.textContent?.includes('days reach off'), undefined, { timeout: 120_000 });

// What the device keeps of the demo day: how many edits can be undone.
export const kept_edits = (page) =>
  page.evaluate(
    () =>
      new Promise((done, failed) => {
        const asked = indexedDB.open('tillwrap');
        asked.onerror = () => failed(asked.error);
        asked.onsuccess = () => {
          const got = asked.result.transaction('days').objectStore('days').get('demo');
          got.onsuccess = () => done(got.result?.undo.length);
          got.onerror = () => failed(got.error);
          asked.result.close();
        };
      }),
  );
