// paths.mjs PAGE CHROMIUM [PICTURES]: the paths a recordist takes, in Debian's Chromium; axe on each room; no console
// error; nothing asked of any other host. Exits 1 at the first that fails. Each path is a file of tests/browser/paths.
import assert from 'node:assert/strict';
import { start } from './harness.mjs';
import { axe_rooms } from './paths/axe_rooms.mjs';
import { day } from './paths/day.mjs';
import { editing } from './paths/editing.mjs';
import { night } from './paths/night.mjs';
import { offline } from './paths/offline.mjs';
import { on_set } from './paths/on_set.mjs';
import { own } from './paths/own.mjs';
import { panels, wide_rooms } from './paths/panels.mjs';
import { rooms } from './paths/rooms.mjs';
import { row } from './paths/row.mjs';
import { tabs } from './paths/tabs.mjs';
import { trouble } from './paths/trouble.mjs';
import { whatif } from './paths/whatif.mjs';
import { widths } from './paths/widths.mjs';
import { years } from './paths/years.mjs';

const [root, executablePath, pictures] = process.argv.slice(2);
const at = await start(root, executablePath);
try {
  const page = await at.visit({ viewport: { width: 390, height: 844 } });
  const path = { ...at, page, pictures };
  await day(path);
  await on_set(path);
  await night(path);
  await row(path);
  await years(path);
  await rooms(path);
  await offline(path);
  await own(path);
  await whatif(at);
  await editing(at);
  await tabs(at);
  await panels(at);
  await wide_rooms(at);
  await trouble(at);
  await widths(path);
  await page.reload();
  await page.setViewportSize({ width: 390, height: 844 });
  await axe_rooms(path);
  assert.deepEqual(at.complaints, []);
} catch (error) {
  await at.told();
  throw error;
} finally {
  await at.close();
}
