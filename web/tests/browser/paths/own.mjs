// An own kit, and files out and in.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { computed, quiet, step } from '../harness.mjs';
import { tapOwnDay } from '../own_day.mjs';

// An export without the moment it was made.
const whatIsKept = (bytes) => {
  const { days, lines } = JSON.parse(bytes.toString('utf8'));
  return { days, lines };
};

export async function own({ page, address }) {
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
  await step('a day file of the command line is read in and forecast; one that is wrong changes nothing and says where', async () => {
    await page.getByRole('button', { name: 'My days', exact: true }).click();
    const days = page.locator('section[aria-label="My days"] li');
    const had = await days.count();
    const text = readFileSync(new URL('../../../../examples/aa-only.toml', import.meta.url), 'utf8');
    const give = (body) => page.locator('input[type=file]').setInputFiles({ name: 'aa-only.toml', mimeType: 'application/toml', buffer: Buffer.from(body) });
    await give(text.replace(/call = "[^"]*"/, 'call = "noon"'));
    const line = text.slice(0, text.indexOf('call = ')).split('\n').length;
    await page.getByRole('alert').getByText(`aa-only.toml, line ${line}: `).waitFor();
    assert.equal(await days.count(), had);
    await give(text);
    await page.getByText(/^Read: /).waitFor();
    assert.equal(await days.count(), had + 1);
    await page.getByRole('button', { name: 'The day', exact: true }).click();
    await quiet(page);
    assert.equal(await page.locator('header .title').textContent(), /title = "([^"]*)"/.exec(text)[1]);
    // No charger in it: said with where to add one.
    await page.goto(`${address}#after`);
    await page.getByRole('button', { name: 'Plan the night' }).click();
    await page.getByRole('alert').getByText('No charger is in this day.', { exact: false }).waitFor();
    await page.goto(`${address}#evening`);
    await page.getByRole('button', { name: 'My days', exact: true }).click();
    await page.getByRole('button', { name: /^Open Saltmarsh/ }).first().click();
    await quiet(page);
  });
}
