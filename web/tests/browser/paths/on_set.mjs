// Facts entered on set.
import assert from 'node:assert/strict';
import { step } from '../harness.mjs';

export async function on_set({ page, address }) {
  await step('on set: a change entered ten minutes ago survives a reload and is taken back', async () => {
    await page.goto(`${address}#set`);
    await page.getByRole('button', { name: 'Changed the pack' }).waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Just now' }).click();
    await page.getByRole('button', { name: 'Changed the pack' }).click();
    await page.getByRole('button', { name: 'cup', exact: true }).click();
    await page.getByRole('button', { name: 'C2', exact: true }).click();
    await page.getByText('C2 into cup').waitFor();
    await page.reload();
    await page.getByText('C2 into cup').waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Undo', exact: true }).click();
    await page.getByText('C2 into cup').waitFor({ state: 'detached' });
  });
  await step('a reading that cannot be is refused beside its field and kept', async () => {
    await page.getByRole('button', { name: 'Reading' }).click();
    await page.getByRole('button', { name: 'pack gauge %' }).click();
    await page.getByRole('textbox').fill('145');
    await page.getByRole('button', { name: 'Save' }).click();
    await page.getByRole('alert').waitFor();
    assert.equal(await page.getByRole('textbox').inputValue(), '145');
    await page.getByRole('button', { name: 'Cancel' }).click();
    await page.getByRole('button', { name: 'Cancel' }).click();
  });
}
