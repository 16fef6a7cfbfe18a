// axe on each room in each theme; a picture of each where a folder is given.
import { axe, ready } from '../harness.mjs';

export async function axe_rooms({ page, address, complaints, pictures }) {
  for (const theme of ['black', 'sunlight']) {
    for (const room of Object.keys(ready)) {
      await page.goto(`${address}#${room}`);
      const other = page.getByRole('button', { name: theme === 'black' ? 'Black' : 'Sunlight', exact: true });
      await page.getByRole('button', { name: /^(Black|Sunlight)$/ }).waitFor({ timeout: 60_000 });
      if (await other.count()) await other.click();
      await page.locator(ready[room]).first().waitFor({ timeout: 180_000 });
      await axe(page, complaints, `${room}, ${theme}`);
      if (pictures) await page.screenshot({ path: `${pictures}/${room}-${theme}.png`, fullPage: false });
    }
  }
}
