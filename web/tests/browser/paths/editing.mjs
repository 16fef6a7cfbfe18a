// Kit and day: a box, a supply, a charger, a place and a lead come and go; what is refused is told at its field; undo.
import assert from 'node:assert/strict';
import { axe, computed, step } from '../harness.mjs';

// A cell in the form of a parameter file: numbers of the class, rounded.
const nmc = {
  id: 'nmc',
  chemistry: 'nmc',
  rated_ah: 2.7,
  capacity_ah: 2.8,
  cutoff_v: 2.8,
  ocv: [[0, 2.8], [0.1, 3.3], [0.3, 3.55], [0.5, 3.65], [0.7, 3.85], [0.9, 4.05], [1, 4.18]],
  lag_gain: [0.6667, 0.6667],
  lag_rate: [20.19, 59.68],
  diffusion_s: 270,
  series_ohm: 0.01,
  electrolyte_ohm: 0.008,
  heat_capacity_j_k: 40,
  cooling_w_k: 0.48,
};

export async function editing({ visit, address, complaints }) {
  const page = await visit({ viewport: { width: 390, height: 844 } });
  const button = (name) => page.getByRole('button', { name });
  const history = page.getByRole('group', { name: 'Undo and redo' });
  const counts = () => page.locator('.sections button').allTextContents();
  const settled = () => page.waitForFunction(() => document.querySelector('header.waiting') === null, undefined, { timeout: 60_000 });
  const refused = () => page.locator('[role=alert]').count();
  const sections = {
    Boxes: ['Add a box', 'box-xlr-6', 'plain splitter'],
    'Mains and vehicles': ['Add a supply', 'vehicle-socket', '12 V socket of a vehicle'],
    Chargers: ['Add a charger', 'charger-aa-8', 'eight-bay charger for nickel AA cells'],
    'Where packs sit': ['Add a place for packs', 'cup-smart-14v4', 'sled for eight AA cells'],
    Packs: ['Add a pack', 'smart-pack', '14.4 V'],
    Devices: ['Add a device', 'body-pack-2aa', 'body-pack'],
  };
  await step('editing: the panel opens', async () => {
    await page.goto(address);
    await computed(page);
    await button('Kit and day').click();
    await button(/^Boxes/).waitFor();
  });
  for (const [section, [add, , tile]] of Object.entries(sections)) {
    await step(`editing: ${section}: one comes, is taken back, comes again, is removed`, async () => {
      await button(new RegExp(`^(! )?${section}`)).click();
      const before = await counts();
      await button(`+ ${add}`).click();
      const found = page.locator('.tiles button', { hasText: tile }).first();
      await found.waitFor({ timeout: 60_000 });
      await found.click();
      await page.waitForFunction((was) => JSON.stringify([...document.querySelectorAll('.sections button')].map((one) => one.textContent)) !== was, JSON.stringify(before));
      await settled();
      assert.equal(await refused(), 0, `${section}: ${(await page.locator('[role=alert]').allTextContents()).join('; ')}`);
      const after = await counts();
      assert.match(await history.locator('button').first().textContent(), new RegExp(`^Undo: ${add}`));
      await history.getByRole('button', { name: /^Undo/ }).click();
      await page.waitForFunction((was) => JSON.stringify([...document.querySelectorAll('.sections button')].map((one) => one.textContent)) === was, JSON.stringify(before));
      await history.getByRole('button', { name: /^Redo/ }).click();
      await page.waitForFunction((was) => JSON.stringify([...document.querySelectorAll('.sections button')].map((one) => one.textContent)) === was, JSON.stringify(after));
      // By the keys too, while no text is being typed.
      await page.keyboard.press('Control+z');
      await page.waitForFunction((was) => JSON.stringify([...document.querySelectorAll('.sections button')].map((one) => one.textContent)) === was, JSON.stringify(before));
      await settled();
    });
  }
  await step('editing: what is refused is told at its field, kept as typed, and mended', async () => {
    await button(/^Boxes/).click();
    await page.locator('.thing').first().click();
    const field = page.getByLabel('main fuse', { exact: true });
    await field.fill('four');
    await field.press('Tab');
    const why = page.locator('.field.refused [role=alert]');
    await why.waitFor({ timeout: 60_000 });
    assert.equal(await field.inputValue(), 'four');
    assert.equal(await field.getAttribute('aria-invalid'), 'true');
    assert.match(await button(/Boxes/).textContent(), /^! /);
    await page.reload();
    await page.locator('[role=alert]').first().waitFor({ timeout: 60_000 });
    await button('Kit and day').click();
    await button(/Boxes/).click();
    await why.waitFor({ timeout: 60_000 });
    await field.fill('4 A');
    await field.press('Tab');
    await why.waitFor({ state: 'detached', timeout: 60_000 });
  });
  await step('editing: a place of its own, used by a box, leaves no trace when it goes', async () => {
    await button(/^Places/).click();
    await button('+ Add a place').click();
    const name = page.getByLabel('name', { exact: true });
    await name.fill('cold shed');
    await name.press('Tab');
    await button(/^▾? ?cold shed/).waitFor();
    await button(/^Boxes/).click();
    await page.locator('.thing').first().click();
    await page.getByLabel('place', { exact: true }).selectOption('cold shed');
    await settled();
    assert.equal(await refused(), 0);
    await button(/^Places/).click();
    await page.locator('.thing').first().click();
    await button('Remove cold shed').click();
    await settled();
    assert.equal(await refused(), 0);
    assert.match(await button(/^Places/).textContent(), /0$/);
  });
  await step('editing: power, bays and fuses by taps', async () => {
    await button(/^Chargers/).click();
    await page.locator('.thing').first().click();
    const pier = page.getByRole('group', { name: 'charger: has power in' }).getByRole('button', { name: 'pier' });
    await pier.click();
    await page.waitForFunction(() => [...document.querySelectorAll('[aria-pressed=true]')].some((one) => one.textContent === 'pier'));
    const bay = page.getByLabel('Put in: charger, bay 2');
    await page.waitForFunction(() => document.querySelectorAll('select[aria-label="Put in: charger, bay 2"] option').length > 2, undefined, { timeout: 60_000 });
    await bay.selectOption('C4');
    await page.getByLabel('C4, until').waitFor();
    await button('Remove C4').click();
    await page.getByLabel('C4, until').waitFor({ state: 'detached' });
    await button(/^Boxes/).click();
    await page.locator('.thing').first().click();
    await page.getByLabel('out-1', { exact: true }).fill('2 A');
    await page.getByLabel('out-1', { exact: true }).press('Tab');
    await settled();
    assert.equal(await refused(), 0);
  });
  await step('editing: a parameter file goes into the day; a wrong one is told at the field, and what was there stays', async () => {
    await button(/^Packs/).click();
    await page.locator('.thing').first().click();
    await page.locator('summary', { hasText: 'More about it' }).click();
    const params = page.getByRole('group', { name: /: cells as measured$/ });
    const give = (name, text) => params.locator('input[type=file]').setInputFiles({ name, mimeType: 'application/json', buffer: Buffer.from(text) });
    await params.getByText('the kind’s usual').waitFor();
    await give('torn.json', '{"cell": [');
    await params.getByRole('alert').getByText(/^torn\.json, line 1: /).waitFor();
    const own = JSON.stringify({ format: 'tillwrap-params-1', cell: [{ ...nmc, title: 'C1 as measured' }] });
    await give('own.json', own);
    await params.getByText('its own, C1 as measured').waitFor();
    assert.equal(await params.getByRole('alert').count(), 0);
    await give('other.json', own.replaceAll('"nmc"', '"lfp"'));
    await params.getByRole('alert').getByText(/another chemistry/).waitFor();
    await params.getByText('its own, C1 as measured').waitFor();
    await settled();
    await button('Undo: C1, cells as measured').click();
    await params.getByText('the kind’s usual').waitFor();
    const toml = Object.entries({ ...nmc, title: 'by hand' }).map(([key, value]) => `${key} = ${JSON.stringify(value)}`);
    await give('own.toml', ['[[cell]]', ...toml].join('\n'));
    await params.getByText('its own, by hand').waitFor();
    await button('Undo: C1, cells as measured').click();
    await button('Redo: C1, cells as measured').click();
    await give('own.json', own);
    await params.getByText('its own, C1 as measured').waitFor();
    await settled();
    await page.reload();
    await computed(page);
    await button('Kit and day').click();
    await button(/^Packs/).click();
    await page.locator('.thing').first().click();
    await page.locator('summary', { hasText: 'More about it' }).click();
    await params.getByText('its own, C1 as measured').waitFor();
    await params.getByRole('button', { name: 'Take it away' }).click();
    await params.getByText('the kind’s usual').waitFor();
    await settled();
  });
  for (const theme of ['black', 'sunlight']) {
    await step(`editing: axe on every section, ${theme}`, async () => {
      const other = button(theme === 'black' ? /^Black$/ : /^Sunlight$/);
      if (await other.count()) await other.click();
      const all = await page.locator('.sections button').count();
      for (let k = 0; k < all; ++k) {
        await page.locator('.sections button').nth(k).click();
        const thing = page.locator('.thing').first();
        if (await thing.count()) {
          if ((await thing.getAttribute('aria-expanded')) === 'false') await thing.click();
          for (const more of await page.locator('section details:not([open]) summary').all()) await more.click();
        }
        await axe(page, complaints, `editing, section ${k + 1}, ${theme}`);
        const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        if (over > 0) complaints.push(`editing, section ${k + 1}: ${over} px too wide`);
      }
    });
  }
  await page.context().close();
}
