// With the network off.
import { computed, step } from '../harness.mjs';

export async function offline({ page, address }) {
  await step('with the network off', async () => {
    await page.evaluate(() => navigator.serviceWorker.ready);
    await page.goto(address);
    await computed(page);
    await page.context().setOffline(true);
    await page.reload();
    await computed(page);
    await page.context().setOffline(false);
  });
}
