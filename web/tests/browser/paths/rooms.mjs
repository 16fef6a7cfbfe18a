// Set & wire, travel, the sheet.
import assert from 'node:assert/strict';
import { step } from '../harness.mjs';

export async function rooms({ page, address }) {
  await step('set & wire: meters and findings', async () => {
    await page.goto(`${address}#wire`);
    await page.getByText(/warn \d/).first().waitFor({ timeout: 120_000 });
    await page.locator('.drawing svg').waitFor({ timeout: 120_000 });
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
}
