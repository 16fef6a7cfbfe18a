// Set & wire, travel, the sheet.
import assert from 'node:assert/strict';
import { step } from '../harness.mjs';

export async function rooms({ page, address }) {
  await step('set & wire: meters and findings', async () => {
    await page.goto(`${address}#wire`);
    await page.getByText(/warn \d/).first().waitFor({ timeout: 120_000 });
    await page.locator('.drawing svg').waitFor({ timeout: 120_000 });
  });
  await step('set & wire: what may hurt comes before the meters, and each part is a tap away', async () => {
    const top = (selector) => page.evaluate((of) => document.querySelector(of).getBoundingClientRect().top, selector);
    await page.getByText('may hurt gear or people').first().waitFor();
    assert.ok((await top('#findings .card')) < (await top('#meters .card')));
    for (const [name, id] of [['Should read', 'reads'], ['Drawing', 'drawing'], ['Meters', 'meters']]) {
      await page.evaluate(() => scrollTo(0, 0));
      await page.getByRole('button', { name, exact: true }).click();
      const y = await top(`#${id}`);
      assert.ok(y > -40 && y < 844 / 2, `${name} at ${y}`);
    }
  });
  await step('travel: two travellers may', async () => {
    await page.goto(`${address}#travel`);
    await page.locator('.verdict').waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'travellers, more' }).click();
    await page.getByText('2 people may carry it all').waitFor({ timeout: 60_000 });
  });
  await step('the sheet prints its own verdict', async () => {
    await page.goto(`${address}#sheet`);
    await page.locator('header h1').waitFor({ timeout: 180_000 });
    assert.ok((await page.locator('main section').count()) >= 3);
    await page.emulateMedia({ media: 'print' });
    assert.equal(await page.locator('nav').isVisible(), false);
    await page.emulateMedia({ media: 'screen' });
  });
  await step('the sheet: what is ticked off stays ticked after a reload, until all ticks are taken away', async () => {
    const first = page.getByRole('checkbox').first();
    await first.check();
    await page.reload();
    await first.waitFor({ timeout: 180_000 });
    await page.waitForFunction(() => document.querySelector('input[type=checkbox]').checked);
    await page.getByRole('button', { name: 'Take all ticks away' }).click();
    assert.equal(await first.isChecked(), false);
  });
}
