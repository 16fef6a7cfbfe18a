// Over the years: the command line's journal in and out, a broken one, facts added, a log looked at.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { axe, step } from '../harness.mjs';

const journal = readFileSync(new URL('../../../../examples/three-years.jsonl', import.meta.url), 'utf8');

export async function years({ page, address, complaints, pictures }) {
  const button = (name) => page.getByRole('button', { name, exact: true });
  const give = (text) => page.locator('.acts input[type=file]').setInputFiles({ name: 'journal.jsonl', mimeType: 'application/x-ndjson', buffer: Buffer.from(text) });
  const count = async () => Number(/(\d+) lines?\./.exec(await page.locator('section[aria-label="The journal"]').textContent())[1]);
  await step('over the years: a broken journal changes nothing and says each line; its good lines only when asked', async () => {
    await page.goto(`${address}#years`);
    await button('Save the journal').waitFor({ timeout: 60_000 });
    await page.locator('article[aria-label="C2"]').waitFor({ timeout: 120_000 }); // charged last night
    const had = await count();
    const lines = journal.split('\n');
    await give([...lines.slice(0, 3), lines[3].slice(0, 60), '{"v":1,"id":"x"}', ''].join('\n'));
    await page.getByText('2 lines of this file cannot be read. Nothing was changed.').waitFor({ timeout: 60_000 });
    await page.getByText(/^Line 4: /).waitFor();
    await page.getByText(/^Line 5: /).waitFor();
    assert.equal(await count(), had);
    await button('Take only the 3 good ones').click();
    await page.getByText('Read: 3 new, 0 already here.').waitFor();
    assert.equal(await count(), had + 3);
  });
  await step('over the years: the command line’s journal comes in whole, once', async () => {
    await give(journal);
    await page.getByText('Read: 27 new, 3 already here.').waitFor({ timeout: 60_000 });
    const card = page.locator('article[aria-label="C2"]');
    await card.getByText('weaker than C1, bought with it').waitFor({ timeout: 60_000 });
    assert.equal(await card.locator('svg[role=img]').count(), 2);
    assert.match(await card.locator('svg[role=img]').first().getAttribute('aria-label'), /^Capacity of C2 over the years: now \d+ %, nine times in ten \d+ % to \d+ %$/);
    await page.locator('article[aria-label="D9"]').getByText('retired 2024-10-02').waitFor();
    await give(journal);
    await page.getByText('Read: 0 new, 30 already here.').waitFor({ timeout: 60_000 });
  });
  await step('over the years: lines of a later version are taken in and said to be kept, not used', async () => {
    const later = { v: 2, id: '018dfe5a-2f80-7000-8000-000000000101', at: '2030-01-01T10:00:00+01:00', by: { device: 'phone' }, what: ['charged'], packs: ['C2'] };
    await give(`${JSON.stringify(later)}\n`);
    await page.getByText(/Read: 1 new, 0 already here\. One line is of a later version \(2\): kept untouched/).waitFor({ timeout: 60_000 });
  });
  await step('over the years: a fact with units is a line; one that cannot be is refused as typed', async () => {
    const had = await count();
    await page.getByLabel('what happened').selectOption('rested');
    await page.getByLabel('pack', { exact: true }).fill('C3');
    await page.getByLabel('place', { exact: true }).fill('van');
    await page.getByLabel('how warm there').fill('warm');
    await button('Write it down').click();
    await page.locator('section[aria-label="Add a fact"] [role=alert]').waitFor({ timeout: 60_000 });
    assert.equal(await page.getByLabel('how warm there').inputValue(), 'warm');
    assert.equal(await count(), had);
    await page.getByLabel('how warm there').fill('4 °C');
    await button('Write it down').click();
    await page.getByText(/^Written: /).waitFor({ timeout: 60_000 });
    assert.equal(await count(), had + 1);
    await page.locator('article[aria-label="C3"]').getByText('van').waitFor({ timeout: 60_000 });
  });
  await step('over the years: a log is looked at; one of another cell is not kept, a gauge’s claim is when asked', async () => {
    const look = async (text) => {
      await page.getByLabel('log file').setInputFiles({ name: 'c3.csv', mimeType: 'text/csv', buffer: Buffer.from(text) });
      await page.locator('form label', { hasText: /^\s*pack/ }).locator('select').selectOption('C3');
      await button('Look at the log').click();
      await page.locator('pre').waitFor({ timeout: 180_000 });
    };
    const keep = button('Put the result into the journal, for C3');
    await page.getByLabel('what happened').selectOption('health');
    // The slow discharge of an NCA cell at 25 °C (doi:10.17632/wykht8y7tg.1), full to empty, four in series; C3's are NMC.
    const curve = [4.17, 4.053, 3.946, 3.86, 3.77, 3.665, 3.602, 3.544, 3.461, 3.331, 2.6];
    const rows = ['time_s,voltage_v,current_a'];
    for (let s = 0; s <= 36000; s += 60) {
      const k = Math.min(9, Math.floor(s / 3600));
      const volts = curve[k] + (curve[k + 1] - curve[k]) * (s / 3600 - k) - 0.05;
      rows.push(`${s},${(4 * volts).toFixed(3)},0.612`);
    }
    await look(rows.join('\n'));
    assert.match(await page.locator('pre').textContent(), /does not look like/);
    assert.equal(await keep.count(), 0);
    // Smart Battery Data Specification 1.1, registers 0x10, 0x18, 0x17: 5440 of 6800 mAh is 80 %.
    await look('FullChargeCapacity(),DesignCapacity(),CycleCount()\n5440,6800,301\n');
    const had = await count();
    await keep.click();
    await page.getByText('Written: C3, c3.csv').waitFor();
    assert.equal(await count(), had + 1);
  });
  await step('over the years: what a day’s readings say of its packs is shown, and put into the journal when asked', async () => {
    // Of the recorder's input and the cup's amps on the demo day, as its forecast has them, C1 holding 96 %.
    const reads = [['07:30', 16.07, 1.23], ['08:00', 15.85, 1.25], ['08:40', 15.35, 1.29], ['09:10', 14.93, 1.33], ['09:40', 14.54, 1.36], ['10:10', 14.2, 1.39]];
    let n = 0;
    const line = (at, what, keys) => JSON.stringify({ v: 1, id: `01a219c1-15c5-7000-8000-${String((n += 1)).padStart(12, '0')}`, at: `2026-11-24T${at}:00+00:00`, by: 'phone', what, ...keys });
    await give(
      [
        line('07:00', 'put_in', { pack: 'C1', holder: 'cup' }),
        ...reads.flatMap(([at, volts, amps]) => [
          line(at, 'reading', { point: 'input volts', of: 'recorder', value: volts }),
          line(at, 'reading', { point: 'amps', of: 'cup', value: amps }),
        ]),
      ].join('\n'),
    );
    await page.getByText('Read: 13 new, 0 already here.').waitFor({ timeout: 60_000 });
    const card = page.locator('article[aria-label="C1"]');
    const ask = card.getByRole('button', { name: 'By the readings of 2026-11-24' });
    await ask.click();
    const told = card.getByRole('region', { name: 'C1 by the readings of 2026-11-24' });
    await told.waitFor({ timeout: 120_000 });
    const row = await told.getByRole('row', { name: /^C1/ }).textContent();
    const [, low, high] = /\((\d+)\D+(\d+)\s%\)/.exec(row);
    assert.ok(Number(low) < 96 && 96 < Number(high) && Number(high) - Number(low) < 40, row);
    await told.getByText(/^Nothing is told of .*tray NiMH/).waitFor();
    await told.getByText(/^Its resistance cannot be told\. What would:/).waitFor();
    await told.getByText(/^Over the years, with that day: C1 holds/).waitFor();
    await axe(page, complaints, 'years, a day’s readings');
    if (pictures) {
      await told.scrollIntoViewIfNeeded();
      await page.screenshot({ path: `${pictures}/years-day-390.png` });
      await page.setViewportSize({ width: 1280, height: 900 });
      await told.scrollIntoViewIfNeeded();
      await page.screenshot({ path: `${pictures}/years-day-1280.png` });
      await page.setViewportSize({ width: 390, height: 844 });
    }
    // A pack that the day has and the journal's readings do not is asked about alike, and said not to have been in use.
    const had = await count();
    await told.getByRole('button', { name: 'Put it into the journal, for C1' }).click();
    await card.getByText('Written: C1').waitFor({ timeout: 60_000 });
    assert.equal(await count(), had + 1);
    const other = page.locator('article[aria-label="C3"]');
    await other.getByRole('button', { name: 'By the readings of 2026-11-24' }).click();
    await other.getByText('C3 was not in use that day.').waitFor({ timeout: 120_000 });
  });
  await step('over the years: out again, every line as it came in, in order; the same after a reload', async () => {
    await page.reload();
    await page.locator('article[aria-label="C2"]').getByText('weaker than C1, bought with it').waitFor({ timeout: 120_000 });
    const saved = page.waitForEvent('download');
    await button('Save the journal').click();
    const out = readFileSync(await (await saved).path(), 'utf8');
    assert.ok(out.endsWith('\n'));
    const lines = out.trimEnd().split('\n');
    for (const line of journal.trimEnd().split('\n')) assert.ok(lines.includes(line), line);
    const times = lines.map((line) => Date.parse(JSON.parse(line).at));
    assert.deepEqual(times, [...times].sort((a, b) => a - b));
    assert.equal(lines.length, await count());
    const test = lines.map((line) => JSON.parse(line)).find((line) => line.what === 'tested' && line.log === 'c3.csv');
    assert.ok(Math.abs(test.capacity - 0.8) < 0.01 && test.pack === 'C3');
    const day = lines.map((line) => JSON.parse(line)).filter((line) => line.what === 'tested' && line.day === '2026-11-24');
    assert.deepEqual(day.map(({ pack, at }) => [pack, at.slice(0, 16)]), [['C1', '2026-11-24T10:10']]);
  });
}
