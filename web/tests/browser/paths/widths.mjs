// Narrow, wide and large text: nothing runs off the side, keys reach everything.
import { ready, step } from '../harness.mjs';

export async function widths({ page, address, complaints }) {
  for (const [width, text] of [[360, 100], [1600, 100], [360, 200]]) {
    await step(`${width} px, text at ${text} %: nothing runs off the side, everything can be reached by keys`, async () => {
      await page.setViewportSize({ width, height: 844 });
      for (const room of Object.keys(ready)) {
        await page.goto(`${address}#${room}`);
        await page.locator(ready[room]).first().waitFor({ timeout: 180_000 });
        await page.evaluate((size) => (document.documentElement.style.fontSize = `${size}%`), text);
        await page.waitForTimeout(200);
        const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        if (over > 0) complaints.push(`${room}, ${width} px, ${text} %: ${over} px too wide`);
        const cut = await page.evaluate(() =>
          [...document.querySelectorAll('button, a, input, select, summary')]
            .filter((one) => one.checkVisibility() && one.getClientRects().length > 0 && !one.closest('.scroll') && one.type !== 'file')
            .filter((one) => one.getBoundingClientRect().right > innerWidth + 1 || one.getBoundingClientRect().left < -1)
            .map((one) => (one.textContent.trim() || one.outerHTML).slice(0, 80)));
        if (cut.length) complaints.push(`${room}, ${width} px, ${text} %: out of sight: ${cut.join('; ')}`);
        if (text === 100) {
          // Round the page with the tab key: each control once, each with an outline.
          const wanted = await page.evaluate(() => {
            document.activeElement?.blur();
            return [...document.querySelectorAll('button:not(:disabled), a[href], select, summary')].filter((one) => one.checkVisibility() && one.getClientRects().length > 0 && one.tabIndex >= 0).length;
          });
          const met = await page.evaluate(() => ((globalThis.met = new Set()), 0));
          let plain = met;
          let count = 0;
          for (let k = 0; k < wanted + 60 && count < wanted; ++k) {
            await page.keyboard.press('Tab');
            [count, plain] = await page.evaluate((was) => {
              const one = document.activeElement;
              if (one === document.body) return [globalThis.met.size, was];
              if (one.matches('button, a, select, summary')) globalThis.met.add(one);
              const seen = getComputedStyle(one);
              return [globalThis.met.size, was + (seen.outlineStyle === 'none' && one.type !== 'file' ? 1 : 0)];
            }, plain);
          }
          if (count < wanted) complaints.push(`${room}, ${width} px: keys reach ${count} of ${wanted} controls`);
          if (plain > 0) complaints.push(`${room}, ${width} px: ${plain} without a visible focus`);
        }
      }
    });
  }
}
