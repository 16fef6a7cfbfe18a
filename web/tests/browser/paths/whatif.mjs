// What-ifs dragged, tapped and by keys: the strip answers while the finger is down, with the newest value, and no queue.
import assert from 'node:assert/strict';
import { axe, quiet, safe, step } from '../harness.mjs';

// In the page: questions to the workers and their answers, and each time the strip's shapes change.
function watch() {
  globalThis.sent = [];
  globalThis.open = 0;
  globalThis.most_open = 0;
  globalThis.painted = [];
  globalThis.down = false;
  globalThis.Worker = class extends Worker {
    asked = new Set();
    constructor(...all) {
      super(...all);
      // Before the page's own listener: it may ask the next question at once.
      this.addEventListener('message', ({ data }) => this.asked.delete(data.id) && (globalThis.open -= 1));
    }
    postMessage(message, ...more) {
      if (message.question?.quick) {
        this.asked.add(message.id);
        globalThis.open += 1;
        globalThis.most_open = Math.max(globalThis.most_open, globalThis.open);
        globalThis.sent.push(message.question.day);
      }
      return super.postMessage(message, ...more);
    }
  };
  addEventListener('pointerdown', () => (globalThis.down = true), true);
  addEventListener('pointerup', () => (globalThis.down = false), true);
  const seen = new MutationObserver((changes) => {
    if (changes.some((change) => change.target.closest?.('.strip svg'))) globalThis.painted.push(globalThis.down);
  });
  addEventListener('DOMContentLoaded', () => seen.observe(document, { subtree: true, childList: true, attributes: true, characterData: true }));
}

export async function whatif({ visit, address, complaints }) {
  for (const viewport of [{ width: 390, height: 844 }, { width: 1280, height: 900 }]) {
    const page = await visit({ viewport });
    await page.addInitScript(watch);
    const phone = viewport.width < 600;
    const pick = async (name) => phone && (await page.locator('.chips button', { hasText: name }).getAttribute('aria-pressed')) !== 'true' && (await page.locator('.chips button', { hasText: name }).click());
    const slider = (name) => page.getByRole('group', { name, exact: true }).getByRole('slider');
    const back = async (was) => {
      await page.getByRole('button', { name: 'Put it back' }).click();
      await page.waitForFunction((text) => document.querySelector('h1')?.textContent?.trim() === text, was, { timeout: 60_000 });
    };
    await page.goto(address);
    await quiet(page);
    const was = await safe(page);
    await step(`${viewport.width} px: the strip answers while the finger is down`, async () => {
      await pick('air');
      await slider('air').scrollIntoViewIfNeeded();
      const box = await slider('air').boundingBox();
      const y = box.y + box.height / 2;
      await page.evaluate(() => ((globalThis.sent = []), (globalThis.painted = []), (globalThis.most_open = 0)));
      await page.mouse.move(box.x + box.width / 2, y);
      await page.mouse.down();
      for (let k = 0; k <= 40; ++k) await page.mouse.move(box.x + box.width / 2 - (k * box.width) / 100, y);
      await page.waitForTimeout(300);
      const seen = await page.evaluate(() => ({ painted: globalThis.painted.filter((down) => down).length, sent: globalThis.sent.length, most: globalThis.most_open }));
      assert.ok(seen.painted >= 3, `strip changed ${seen.painted} times while down`);
      assert.equal(seen.most, 1, 'one question at a time');
      const held = await slider('air').inputValue();
      await page.mouse.up();
      await page.waitForTimeout(300);
      const last = JSON.parse((await page.evaluate(() => globalThis.sent)).at(-1));
      assert.equal(last.period[0].air, `${12 + Number(held)} °C`, 'the newest value was asked last');
      assert.notEqual(await safe(page), was);
      if (phone) {
        // The answer and the strip are both in sight, and the answer is said.
        const dock = await page.locator('.whatif').boundingBox();
        assert.ok(dock.y > 300 && dock.y + dock.height <= viewport.height - 50, JSON.stringify(dock));
        assert.match(await page.locator('.whatif [role=status]').textContent(), /as stated|Lasts past/);
      }
      await back(was);
    });
    for (const [name, key, expected] of [['load', 'ArrowRight', '× 1.01'], ['wrap', 'ArrowRight', '+5 min'], ['charge', 'ArrowLeft', '−1 %'], ['cable', 'ArrowRight', '× 1.1'], ['air', 'Home', '−30 K']]) {
      await step(`${viewport.width} px: ${name} by the keyboard, then by a tap`, async () => {
        await pick(name);
        await slider(name).focus();
        await page.keyboard.press(key);
        assert.equal(await slider(name).getAttribute('aria-valuetext'), expected);
        // A day that does not reach off says what goes first and why.
        if (name === 'air') await page.locator('header', { hasText: / goes off at \d\d:\d\d: / }).waitFor();
        if (name === 'air') assert.equal(await page.getByRole('button', { name: 'air, less' }).isDisabled(), true);
        else await page.getByRole('button', { name: `${name}, ${key === 'ArrowLeft' ? 'less' : 'more'}` }).click();
        await page.waitForTimeout(200);
        await back(was);
        assert.equal(await slider(name).getAttribute('aria-valuetext'), 'as written');
      });
    }
    await step(`${viewport.width} px: kept under its own name, undone`, async () => {
      await pick('wrap');
      await page.getByRole('button', { name: 'wrap, more' }).click();
      await page.getByRole('button', { name: 'Keep it' }).click();
      await page.getByRole('button', { name: 'Undo: wrap +15 min' }).click();
      await page.waitForFunction((text) => document.querySelector('h1')?.textContent?.trim() === text, was, { timeout: 60_000 });
    });
    await pick('load');
    await page.getByRole('button', { name: 'load, more' }).click();
    await axe(page, complaints, `what-if, ${viewport.width} px`);
    await page.context().close();
  }
}
