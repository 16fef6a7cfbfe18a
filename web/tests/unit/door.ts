// The engine itself, for tests of what the page makes of a day: the same module the page's workers load.
import { readFileSync } from 'node:fs';
import { fileURLToPath, pathToFileURL } from 'node:url';
import type { Entry, Find, List } from '../../src/state/entry';
import { written, type DayJson } from '../../src/state/day';

interface Module {
  ccall(name: string, returns: 'string', takes: string[], given: string[]): string;
}
const folder = process.env.TILLWRAP_WASM ?? fileURLToPath(new URL('../../../build/wasm', import.meta.url));
const { default: load } = (await import(/* @vite-ignore */ pathToFileURL(`${folder}/tillwrap.mjs`).href)) as { default: (options: object) => Promise<Module> };
const engine = await load({ wasmBinary: readFileSync(`${folder}/tillwrap.wasm`) });

export interface Reply {
  answer?: Record<string, unknown>;
  error?: { line: number; message: string; hint: string };
}
export const ask = (question: Record<string, unknown>): Reply =>
  JSON.parse(engine.ccall('tillwrap_ask', 'string', ['string'], [JSON.stringify({ id: 1, ...question })])) as Reply;

// Quick, as a finger asks: its lists are empty.
export const forecast = (day: DayJson, quick = true): Reply => ask({ ask: 'forecast', day: written(day), one_loss: false, quick });

const examples = fileURLToPath(new URL('../../../examples', import.meta.url));
export const example = (name: string): DayJson =>
  ask({ ask: 'as_json', day: readFileSync(`${examples}/${name}.toml`, 'utf8'), name }).answer!.day as DayJson;

const lists = new Map<List, Entry[]>();
export function entries(list: List): Entry[] {
  if (!lists.has(list)) lists.set(list, ask({ ask: 'catalogue', what: list }).answer!.entries as Entry[]);
  return lists.get(list)!;
}
export const find: Find = (list, id) => entries(list).find((entry) => entry.id === id);
