// Two tabs on the same day: what is edited or noted in one stands in the other, and no edit writes over another.
import assert from 'node:assert/strict';
import { computed, kept_edits, step } from '../harness.mjs';

export async function tabs({ visit, address }) {
  const one = await visit({ viewport: { width: 390, height: 844 } });
  const other = await one.context().newPage();
  await other.clock.setFixedTime(new Date('2026-11-25T14:45:00Z'));
  const call = (page) => page.locator('#day-call');
  await step('tabs: an edit in one is shown in the other', async () => {
    for (const page of [one, other]) {
      await page.goto(address);
      await computed(page);
      await page.getByRole('button', { name: 'Kit and day' }).click();
      await call(page).waitFor();
    }
    await call(one).fill('07:10');
    await call(one).press('Tab');
    await other.waitForFunction(() => document.querySelector('#day-call').value === '07:10');
  });
  await step('tabs: both edit at once, and both edits stay', async () => {
    const set = (page, id, value) => page.evaluate(([id, value]) => {
      const input = document.getElementById(id);
      input.value = value;
      input.dispatchEvent(new Event('change', { bubbles: true }));
    }, [id, value]);
    await Promise.all([set(one, 'day-overrun', '1 h'), set(other, 'day-reserve', '20 min')]);
    for (const page of [one, other])
      await page.waitForFunction(() => document.querySelector('#day-overrun').value === '1 h' && document.querySelector('#day-reserve').value === '20 min');
    assert.equal(await kept_edits(one), 3);
  });
  await step('tabs: what is noted on set in one stands in the other', async () => {
    for (const page of [one, other]) {
      await page.goto(`${address}#set`);
      await page.locator('dl').waitFor();
    }
    await one.getByRole('button', { name: 'Running late' }).click();
    await one.getByRole('button', { name: '15 min later' }).click();
    await other.getByText('15 min later', { exact: false }).first().waitFor();
  });
  await one.context().close();
}
