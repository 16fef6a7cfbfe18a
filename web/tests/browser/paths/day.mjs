// The demo day, what-ifs, undo and redo.
import assert from 'node:assert/strict';
import { computed, kept_edits, quiet, safe, step } from '../harness.mjs';

export async function day({ page, address }) {
  await step('the demo day is there at once', async () => {
    await page.goto(address);
    await computed(page);
    await page.waitForSelector('svg polygon');
    await quiet(page);
  });
  const before = await safe(page);
  await step('colder: the strip answers, and goes back', async () => {
    await page.getByRole('button', { name: 'air, less' }).click();
    await page.waitForFunction((was) => document.querySelector('h1')?.textContent?.trim() !== was, before, { timeout: 60_000 });
    await page.getByRole('button', { name: 'Put it back' }).click();
    await quiet(page);
    assert.equal(await safe(page), before);
  });
  await step('kept, undone, after a reload too', async () => {
    await page.locator('.chips button', { hasText: 'load' }).click();
    await page.getByRole('button', { name: 'load, more' }).click();
    await page.getByRole('button', { name: 'Keep it' }).click();
    await quiet(page);
    const heavier = await safe(page);
    assert.notEqual(heavier, before);
    assert.equal(await kept_edits(page), 1, 'on the device before it is shown');
    await page.reload();
    assert.equal(await kept_edits(page), 1, 'on the device after a reload');
    await computed(page);
    await quiet(page);
    assert.equal(await safe(page), heavier);
    await page.getByRole('button', { name: /^Undo/ }).click();
    await page.waitForFunction((was) => document.querySelector('h1')?.textContent?.trim() === was, before, { timeout: 60_000 });
  });
  await step('undone and done again', async () => {
    const was = await safe(page);
    await page.locator('.chips button', { hasText: 'load' }).click();
    await page.getByRole('button', { name: 'load, more' }).click();
    await page.getByRole('button', { name: 'Keep it' }).click();
    await quiet(page);
    const heavier = await safe(page);
    // The answer from before stands until the next comes: what is waited for is the verdict itself.
    const says = (text) => page.waitForFunction((wanted) => document.querySelector('h1')?.textContent?.trim() === wanted, text, { timeout: 60_000 });
    await page.getByRole('button', { name: /^Undo/ }).click();
    await says(was);
    await page.getByRole('button', { name: /^Redo/ }).click();
    await says(heavier);
    await page.getByRole('button', { name: /^Undo/ }).click();
    await says(was);
    await quiet(page);
  });
}
