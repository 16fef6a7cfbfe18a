// After wrap: the night planned, a pack ticked off, the calendar taken away.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { step } from '../harness.mjs';

export async function night({ page, address }) {
  const button = (name) => page.getByRole('button', { name, exact: true });
  await step('after wrap: the night cannot be planned with a supply of no watts, which is said beside it', async () => {
    await page.goto(`${address}#after`);
    await button('Plan the night').waitFor({ timeout: 60_000 });
    await page.getByLabel('power from').selectOption('generator');
    await button('Plan the night').click();
    await page.getByRole('alert').getByText(/watts.*1 to 100000/).waitFor();
    assert.equal(await page.locator('.verdict').count(), 0);
    await page.getByLabel('power from').selectOption('wall');
  });
  await step('after wrap: planned, a pack ticked off, both there after a reload', async () => {
    await button('Plan the night').click();
    await page.locator('.verdict').waitFor({ timeout: 180_000 });
    const verdict = (await page.locator('.verdict').textContent()).trim();
    assert.match(verdict, /packs of the day are ready by 07:00/);
    await page.getByText(/^Best of all plans|^The search was cut short/).waitFor();
    await page.locator('.drawing svg').waitFor();
    assert.match((await page.locator('.chargers li').first().innerText()).replace(/\s+/g, ' '), /^charger bay 1: C\d \d\d:\d\d – \d\d:\d\d/);
    assert.equal(await page.locator('.drawing svg text', { hasText: /^charger, 2 bays$/ }).count(), 1);
    await button('C1 is charged').click();
    await page.getByText('C1 is charged, noted').waitFor();
    await page.reload();
    await page.getByText('C1 is charged, noted').waitFor({ timeout: 60_000 });
    assert.equal((await page.locator('.verdict').textContent()).trim(), verdict);
    await page.getByRole('button', { name: /^C1 is charged, noted/, pressed: true }).click(); // not after all
    await button('C1 is charged').waitFor();
    await button('C2 is charged').click();
    await page.getByText('C2 is charged, noted').waitFor();
  });
  await step('after wrap: asleep in the room is allowed with its caution, and charges through the night', async () => {
    await page.locator('summary', { hasText: 'Who is there, and when' }).click();
    await page.getByLabel('It may charge while somebody sleeps').check();
    await page.getByText('never to charge lithium packs while you sleep').first().waitFor();
    await page.getByText('The day or the night has changed since.').waitFor();
    await button('Plan it again').click();
    await button('Stop').click();
    await page.getByText('Stopped.', { exact: false }).waitFor();
    await page.getByText('The day or the night has changed since.').waitFor(); // the plan from before stays
    await button('Plan it again').click();
    await page.getByText('The day or the night has changed since.').waitFor({ state: 'detached', timeout: 180_000 });
    assert.ok((await page.getByText('never to charge lithium packs while you sleep').count()) >= 2);
  });
  await step('after wrap: the calendar is one (RFC 5545), with an alarm at each swap', async () => {
    const saved = page.waitForEvent('download');
    await button('Calendar file with alarms').click();
    const calendar = readFileSync(await (await saved).path(), 'utf8');
    assert.ok(calendar.startsWith('BEGIN:VCALENDAR\r\n') && calendar.endsWith('END:VCALENDAR\r\n'));
    assert.match(calendar, /DTSTART:20261125T\d{6}\r\n/);
    assert.match(calendar, /BEGIN:VALARM\r\n/);
  });
}
