// pictures.mjs PAGE CHROMIUM: a picture of each room, as a phone and as a desk has it, in each theme, into docs/pictures, and the
// table of them in docs/page.md. The rooms are those of tests/browser/harness.mjs.
import { mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { computed, furnished, quiet, ready, start } from '../tests/browser/harness.mjs';

const [page_folder, executablePath] = process.argv.slice(2);
const here = (path) => fileURLToPath(new URL(path, import.meta.url));
const folder = here('../../docs/pictures');
const kMostBytes = 1_500_000;
const sizes = { 390: 844, 1280: 900 };
const themes = { black: 'Black', sunlight: 'Sunlight' };

mkdirSync(folder, { recursive: true });
for (const name of readdirSync(folder)) if (name.endsWith('.webp')) rmSync(`${folder}/${name}`);
const at = await start(page_folder, executablePath);
const titles = {};
try {
  for (const [width, height] of Object.entries(sizes)) {
    const page = await at.visit({ viewport: { width: Number(width), height }, reducedMotion: 'reduce' });
    await furnished(page, at.address);
    const devtools = await page.context().newCDPSession(page);
    for (const [theme, button] of Object.entries(themes)) {
      await page.goto(at.address);
      await computed(page);
      const other = page.getByRole('button', { name: button, exact: true });
      if (await other.count()) await other.click();
      for (const room of Object.keys(ready)) {
        await page.goto(`${at.address}#${room}`);
        await page.locator(ready[room]).first().waitFor({ timeout: 180_000 });
        if (room === 'evening') await quiet(page);
        if (room === 'set') await page.getByText('computing').first().waitFor({ state: 'detached' });
        titles[room] = await page.locator(`nav a[href="#${room}"]`).getAttribute('aria-label');
        await page.evaluate(() => scrollTo(0, 0));
        await page.waitForTimeout(400);
        const { data } = await devtools.send('Page.captureScreenshot', { format: 'webp', quality: 60 });
        writeFileSync(`${folder}/${room}-${width}-${theme}.webp`, Buffer.from(data, 'base64'));
      }
    }
    await page.context().close();
  }
} finally {
  await at.close();
}
const bytes = readdirSync(folder).reduce((sum, name) => sum + statSync(`${folder}/${name}`).size, 0);
if (bytes > kMostBytes) throw new Error(`${bytes} bytes of pictures, ${kMostBytes} allowed: lower the quality`);

const document = here('../../docs/page.md');
const image = (room, width, theme) => `<img src="pictures/${room}-${width}-${theme}.webp" width="${width === '390' ? 195 : 420}" alt="${titles[room]}, ${width} px, ${theme}">`;
const table = [
  ...Object.keys(ready).flatMap((room) => [
    `### ${titles[room]}`,
    '',
    ...Object.keys(themes).map((theme) => Object.keys(sizes).map((width) => image(room, width, theme)).join(' ')),
    '',
  ]),
].join('\n');
const [from, until] = ['<!-- pictures: made by `npm run pictures` -->', '<!-- end of pictures -->'];
const text = readFileSync(document, 'utf8');
const [a, b] = [text.indexOf(from), text.indexOf(until)];
if (a < 0 || b < 0) throw new Error(`docs/page.md has no place for the pictures: put ${from} and ${until} in it`);
writeFileSync(document, `${text.slice(0, a + from.length)}\n\n${table}${text.slice(b)}`);
console.log(`${readdirSync(folder).length} pictures, ${(bytes / 1000).toFixed(0)} kB`);
