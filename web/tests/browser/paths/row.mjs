// After wrap: days in a row, set up, taken back, run, stopped, carried to another device in a file.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { axe, step } from '../harness.mjs';

// The example week as the page keeps it, its first day followed by the others.
function week() {
  const folder = fileURLToPath(new URL('../../../../examples/week/', import.meta.url));
  const read = 'import json, sys, tomllib; print(json.dumps(tomllib.load(open(sys.argv[1], "rb")), default=str))';
  const days = ['1-harbour', '2-lighthouse', '3-crossing', '4-school'].map((id) => {
    const day = JSON.parse(execFileSync('python3', ['-c', read, `${folder}${id}.toml`], { encoding: 'utf8' }));
    return { id, name: day.title, day: JSON.stringify(day), undo: [], redo: [], changed_at: '2026-11-22T12:00:00+00:00' };
  });
  days[0].row = days.slice(1).map(({ id }) => ({ day: id, charged: true }));
  return { format: 'tillwrap-export-2', days, lines: [] };
}

export async function row({ visit, page, address, complaints }) {
  const view = (of) => of.getByRole('button', { name: 'Days in a row', exact: true }).click();
  const days = (of) => of.getByRole('region', { name: 'Days in a row' });
  const row = days(page);
  const button = (name) => row.getByRole('button', { name, exact: true });
  const selects = row.locator('select');
  const verdict = row.locator('.verdict');
  await step('days in a row: one more, one less, each taken back and made again, and there after a reload', async () => {
    await page.goto(`${address}#after`);
    await view(page);
    await button('+ One more day').click();
    await selects.nth(1).waitFor();
    await button('Undo: Days in a row: Day 3').click();
    await selects.nth(1).waitFor({ state: 'detached' });
    await button('Redo: Days in a row: Day 3').click();
    await selects.nth(1).waitFor();
    await row.getByLabel('charged in the night after day 2').uncheck();
    await button('Undo: Days in a row: charged in the night after day 2').waitFor();
    assert.equal(await page.getByRole('alert').count(), 0); // it is kept
    await page.reload();
    await view(page);
    await selects.nth(1).waitFor();
    assert.equal(await row.getByLabel('charged in the night after day 2').isChecked(), false);
    await row.getByLabel('charged in the night after day 2').check();
    await button('without day 3').click();
    await selects.nth(1).waitFor({ state: 'detached' });
    await button('Undo: Days in a row: without day 3').click();
    await selects.nth(1).waitFor();
  });
  await step('days in a row: a night that cannot be is told at the row, and nothing is asked', async () => {
    const feed = async (supply) => {
      await page.getByRole('button', { name: 'The night', exact: true }).click();
      await page.locator('details.form').evaluate((form) => (form.open = true));
      await page.getByLabel('power from').selectOption(supply);
      await view(page);
    };
    await feed('generator');
    await row.getByRole('alert').getByText(/cannot be so \(watts\)/).first().waitFor();
    await button('See how they last').click();
    await row.getByText('Put right first what is marked above.').waitFor();
    assert.equal(await verdict.count(), 0);
    await feed('wall');
    assert.equal(await row.getByRole('alert').count(), 0);
  });
  await step('days in a row: how they last comes first; looking for what would help tells how far it is and can be stopped', async () => {
    await button('See how they last').click();
    await row.getByText(/^\d+ of \d+ sets of more packs and bays tried$/).waitFor({ timeout: 120_000 });
    assert.match((await verdict.textContent()).trim(), /^Day [23] of 3 is the first that does not last\.$/);
    assert.equal(await row.getByText(/^Day [123]: /).count(), 4); // the first day of the row, and each of the answer
    await button('Stop').click();
    await row.getByText('Stopped.', { exact: false }).waitFor();
    await row.getByText('Not looked for to the end: see it again.').waitFor();
    await row.locator('summary', { hasText: 'Packs on day 1' }).click();
    // What a night leaves a pack is what the next day begins with, to the per cent shown.
    await row.locator('summary', { hasText: 'Packs on day 2' }).click();
    const cells = (n) => row.getByRole('group', { name: `Packs on day ${n}` }).locator('tbody tr').evaluateAll((rows) => rows.map((one) => [...one.children].map((cell) => cell.textContent)));
    const [first, second] = [await cells(1), await cells(2)];
    assert.ok(first.length > 2);
    for (const [label, , , after] of first) {
      const next = second.find((one) => one[0] === label);
      assert.ok(Math.abs(parseInt(after, 10) - parseInt(next[1], 10)) <= 1, `${label}: ${after} then ${next[1]}`);
    }
    await page.reload();
    await view(page);
    await verdict.waitFor();
    await axe(page, complaints, 'days in a row');
  });
  await step('days in a row: packs chosen anew each day, told as each is known; stopped, it keeps the days until then', async () => {
    await row.getByLabel('Choose the packs anew each day').check();
    await button('See it again').click();
    await row.getByText(/^Days? 1.* of 3 lasts?\.$/).waitFor({ timeout: 120_000 });
    await button('Stop').click();
    await row.getByText('Stopped. What was found until then is below.').waitFor();
    const known = await row.getByText(/^Day [123]: /).count() - 1;
    assert.ok(known >= 1 && known < 3, `${known} days`);
    await row.getByText(known === 2 ? 'Day 3 is not run.' : 'Days 2 to 3 are not run.').waitFor();
    await page.reload();
    await view(page);
    await row.getByText(/are not run\.|is not run\./).waitFor();
    await row.getByLabel('Choose the packs anew each day').uncheck();
    await button('See it again').click();
    await row.getByText(/^\d+ of \d+ sets of more packs and bays tried$/).waitFor({ timeout: 120_000 });
    await button('Stop').click();
  });
  await step('days in a row: begun with the packs as the journal has them, and so after a reload', async () => {
    const at_call = async (label) => {
      const open = await row.locator('details', { has: page.locator('summary', { hasText: 'Packs on day 1' }) }).evaluate((one) => (one.open = true));
      assert.ok(open);
      const cells = await row.getByRole('group', { name: 'Packs on day 1' }).locator('tbody tr').evaluateAll((rows) => rows.map((one) => [...one.children].map((cell) => cell.textContent)));
      return cells.find((one) => one[0] === label)[1];
    };
    assert.equal(await at_call('C1'), '100 %');
    const drawn = { v: 1, id: '01a213c1-15c5-70d4-af6f-000000000009', at: '2026-11-25T14:00:00+00:00', by: 'test', what: 'taken_out', pack: 'C1', holder: 'cup', charge: 0.4 };
    await page.goto(`${address}#years`);
    await page.locator('.acts input[type=file]').setInputFiles({ name: 'j.jsonl', mimeType: 'application/x-ndjson', buffer: Buffer.from(`${JSON.stringify(drawn)}\n`) });
    await page.getByText('Read: 1 new').waitFor();
    await page.goto(`${address}#after`);
    await view(page);
    await row.getByLabel('Begin with the packs as the journal has them').check();
    await row.getByText('The days or the nights have changed since.').waitFor();
    await button('See it again').click();
    await row.getByText('The days or the nights have changed since.').waitFor({ state: 'detached', timeout: 120_000 });
    assert.match(await row.innerText(), /Begun with the packs as the journal has them: .*C1 40 %/);
    assert.equal(await at_call('C1'), '40 %');
    if (await button('Stop').count()) await button('Stop').click();
    await page.reload();
    await view(page);
    await verdict.waitFor();
    assert.equal(await row.getByLabel('Begin with the packs as the journal has them').isChecked(), true);
    await row.getByLabel('Begin with the packs as the journal has them').uncheck();
  });
  await step('days in a row: a day that is not last of all, mended by one more pack or bay', async () => {
    const other = await visit({ viewport: { width: 390, height: 844 } });
    const here = days(other);
    await other.goto(address);
    await other.getByRole('button', { name: 'My days' }).click();
    await other.locator('.acts input[type=file]').setInputFiles({ name: 'week.tillwrap.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(week())) });
    await other.getByText(/^Read: 4 days/).waitFor();
    await other.goto(`${address}#after`);
    await view(other);
    await here.getByRole('button', { name: 'See how they last' }).click();
    await here.getByText('Day 3 of 4 is the first that does not last.').waitFor({ timeout: 120_000 });
    await here.getByText(/1 more pack|1 more bay/).first().waitFor({ timeout: 240_000 });
    // To another device in a file, without one of its days.
    const saved = other.waitForEvent('download');
    await here.getByRole('button', { name: 'Save these days to a file' }).click();
    const file = JSON.parse(readFileSync(await (await saved).path(), 'utf8'));
    assert.equal(file.days.length, 4);
    file.days.splice(2, 1);
    const third = await visit({ viewport: { width: 390, height: 844 } });
    await third.goto(address);
    await third.getByRole('button', { name: 'My days' }).click();
    await third.locator('.acts input[type=file]').setInputFiles({ name: 'three.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(file)) });
    await third.goto(`${address}#after`);
    await view(third);
    await days(third).getByRole('alert').getByText(/^This day is not on this device/).waitFor();
    await days(third).getByRole('button', { name: 'See how they last' }).click();
    await days(third).getByText('Put right first what is marked above.').waitFor();
    await axe(third, complaints, 'days in a row, one missing');
    await third.context().close();
    await other.context().close();
  });
}
