// When the device refuses: storage full, storage forbidden, a worker that dies, a new version of the page.
import assert from 'node:assert/strict';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { serve } from '../serve.mjs';
import { computed, kept_edits, quiet, step } from '../harness.mjs';

const saved = async (page, click) => {
  const waiting = page.waitForEvent('download');
  await click();
  return JSON.parse(readFileSync(await (await waiting).path(), 'utf8'));
};

// Writes to the device's storage fail as they do when it is full, while `globalThis.full` is set.
function fill() {
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...all) {
    if (globalThis.full) throw new DOMException('no room', 'QuotaExceededError');
    return put.apply(this, all);
  };
}

export async function trouble({ visit, address, root }) {
  await step('storage full: told, nothing lost, kept once there is room', async () => {
    const page = await visit({ viewport: { width: 390, height: 844 } });
    await page.addInitScript(fill);
    await page.goto(address);
    await quiet(page);
    await page.evaluate(() => (globalThis.full = true));
    await page.getByRole('button', { name: 'Kit and day' }).click();
    const title = page.getByLabel('title', { exact: true });
    await title.fill('Ferry, wet');
    await title.press('Tab');
    const told = page.locator('.notice [role=alert]');
    await told.waitFor();
    assert.match(await told.textContent(), /refuses to save/);
    assert.equal(await title.inputValue(), 'Ferry, wet');
    await page.getByRole('button', { name: 'Undo: title' }).waitFor();
    // The file has what the device has not.
    const out = await saved(page, () => page.locator('.notice button').click());
    assert.ok(out.days.some((day) => JSON.parse(day.day).title === 'Ferry, wet'));
    assert.equal(out.days.filter((day) => day.id === 'demo').length, 1);
    assert.equal(await kept_edits(page), 0);
    await page.evaluate(() => (globalThis.full = false));
    await told.waitFor({ state: 'detached' }); // tried again by itself
    assert.equal(await kept_edits(page), 1);
    const wrap = page.getByLabel('wrap', { exact: true });
    await wrap.fill('19:15');
    await wrap.press('Tab');
    await page.getByRole('button', { name: 'Undo: wrap' }).waitFor();
    assert.equal(await told.count(), 0);
    await page.reload();
    await computed(page);
    await page.getByRole('button', { name: 'Kit and day' }).click();
    assert.equal(await title.inputValue(), 'Ferry, wet');
    assert.equal(await wrap.inputValue(), '19:15');
    await page.context().close();
  });
  await step('storage lets go of the page: opened again, nothing lost', async () => {
    const page = await visit({ viewport: { width: 390, height: 844 } });
    await page.addInitScript(() => {
      const open = IDBFactory.prototype.open;
      globalThis.opened = [];
      IDBFactory.prototype.open = function (...all) {
        const asked = open.apply(this, all);
        asked.addEventListener('success', () => globalThis.opened.push(asked.result));
        return asked;
      };
    });
    await page.goto(address);
    await quiet(page);
    await page.evaluate(() => globalThis.opened.forEach((db) => db.close()));
    await page.getByRole('button', { name: 'Kit and day' }).click();
    const title = page.getByLabel('title', { exact: true });
    await title.fill('Ferry, back again');
    await title.press('Tab');
    await page.getByRole('button', { name: 'Undo: title' }).waitFor();
    assert.equal(await page.locator('.notice').count(), 0);
    assert.equal(await kept_edits(page), 1);
    await page.context().close();
  });
  await step('storage full on set: what is noted stays, goes into the file, and is kept once there is room', async () => {
    const page = await visit({ viewport: { width: 390, height: 844 } });
    const button = (name) => page.getByRole('button', { name, exact: true });
    const noted = (minutes) => page.locator('p', { hasText: `${minutes} min later` }).first();
    const late = async (minutes) => {
      await button('Running late').click();
      await button(`${minutes} min later`).click();
      await noted(minutes).waitFor();
    };
    await page.addInitScript(fill);
    await page.goto(`${address}#set`);
    await button('Running late').waitFor({ timeout: 60_000 });
    await page.evaluate(() => (globalThis.full = true));
    await late(15);
    await page.locator('.notice [role=alert]').waitFor();
    const out = await saved(page, () => page.locator('.notice button').click());
    assert.deepEqual(out.lines.map((line) => JSON.parse(line.text).minutes), [15]);
    await page.evaluate(() => (globalThis.full = false));
    await late(30);
    await page.locator('.notice').waitFor({ state: 'detached' });
    await page.reload();
    await noted(15).waitFor({ timeout: 60_000 });
    await noted(30).waitFor();
    await page.context().close();
  });
  await step('storage forbidden: the page works, says so, and gives a file', async () => {
    const page = await visit({ viewport: { width: 390, height: 844 } });
    await page.addInitScript(() => (indexedDB.open = () => { throw new DOMException('not here', 'SecurityError'); }));
    await page.goto(address);
    await quiet(page);
    await page.locator('.notice [role=alert]').waitFor();
    await page.getByRole('button', { name: 'Kit and day' }).click();
    const title = page.getByLabel('title', { exact: true });
    await title.fill('Not kept');
    await title.press('Tab');
    await page.getByRole('button', { name: 'Undo: title' }).waitFor();
    const out = await saved(page, () => page.locator('.notice button').click());
    assert.deepEqual(out.days.map((day) => JSON.parse(day.day).title), ['Not kept']);
    await page.context().close();
  });
  await step('a worker that dies is replaced, its question asked again, the user told', async () => {
    const page = await visit({ viewport: { width: 390, height: 844 } });
    await page.addInitScript(() => {
      globalThis.workers = [];
      globalThis.Worker = class extends Worker {
        constructor(...all) {
          super(...all);
          globalThis.workers.push(this);
        }
      };
    });
    await page.goto(address);
    await quiet(page);
    const was = (await page.textContent('h1')).trim();
    const before = await page.evaluate(() => globalThis.workers.length);
    // A message the engine cannot survive, right before a question of the page's own.
    await page.evaluate(() => globalThis.workers[0].postMessage({ id: -1, question: { ask: 'forecast' }, samples: { length: 1e9 } }));
    await page.getByRole('button', { name: 'air, less' }).click();
    await page.getByText('was started again', { exact: false }).waitFor({ timeout: 60_000 });
    assert.equal(await page.evaluate(() => globalThis.workers.length), before + 1);
    await page.waitForFunction((text) => document.querySelector('h1')?.textContent?.trim() !== text, was, { timeout: 60_000 });
    await page.getByRole('button', { name: 'Put it back' }).click();
    await quiet(page);
    assert.equal((await page.textContent('h1')).trim(), was);
    await page.getByRole('button', { name: 'Understood' }).click();
    assert.equal(await page.locator('.notice').count(), 0);
    // And one that dies with an error of its own.
    await page.evaluate(() => globalThis.workers.at(-1).dispatchEvent(new ErrorEvent('error', { message: 'gone' })));
    await page.getByText('was started again', { exact: false }).waitFor();
    await page.context().close();
  });
  await step('a new version of the page takes over and keeps what was entered', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'tillwrap-page-'));
    cpSync(resolve(root), folder, { recursive: true });
    const server = await serve(folder);
    const own = `http://127.0.0.1:${server.address().port}/`;
    try {
      const page = await visit({ viewport: { width: 390, height: 844 }, own });
      const context = page.context();
      await page.goto(own);
      await quiet(page);
      await page.evaluate(() => navigator.serviceWorker.ready);
      const version = () => page.evaluate(async () => (await caches.keys()).join());
      await page.waitForFunction(async () => (await caches.keys()).length === 1);
      const old = await version();
      await page.getByRole('button', { name: 'Kit and day' }).click();
      await page.getByLabel('title', { exact: true }).fill('Kept over the update');
      await page.getByLabel('title', { exact: true }).press('Tab');
      await page.getByRole('button', { name: 'Undo: title' }).waitFor();
      // The next version: other text, so another hash.
      const index = join(folder, 'index.html');
      writeFileSync(index, readFileSync(index, 'utf8').replace('</head>', '<meta name="generation" content="2"></head>'));
      const worker = join(folder, 'sw.js');
      writeFileSync(worker, readFileSync(worker, 'utf8').replace(/tillwrap-[0-9a-f]{16}/, 'tillwrap-0000000000000002'));
      await page.evaluate(async () => (await navigator.serviceWorker.getRegistration()).update());
      await page.waitForFunction(async () => Boolean((await navigator.serviceWorker.getRegistration()).waiting), undefined, { timeout: 60_000 });
      // The open page goes on with what it has.
      await page.reload();
      await computed(page);
      assert.equal(await page.locator('meta[name=generation]').count(), 0);
      await page.close();
      // Opened again before the browser has let go of the old one, a page still gets the old: closed and opened once more.
      let next = await context.newPage();
      for (let turn = 0; turn < 10; ++turn) {
        await next.goto(own);
        await computed(next);
        if ((await next.locator('meta[name=generation]').count()) > 0) break;
        await next.close();
        await new Promise((then) => setTimeout(then, 1000));
        next = await context.newPage();
      }
      await next.locator('meta[name=generation]').waitFor({ state: 'attached' });
      await next.waitForFunction(async (was) => !(await caches.keys()).includes(was), old);
      await computed(next);
      await next.getByRole('button', { name: 'Undo: title' }).waitFor();
      assert.match(await next.title(), /^Kept over the update/);
    } finally {
      server.close();
      rmSync(folder, { recursive: true });
    }
  });
}
