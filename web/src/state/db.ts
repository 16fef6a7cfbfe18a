// What is kept on this device: the days, and the journal's lines. Nothing leaves it unless exported.
import { openDB, type DBSchema, type IDBPDatabase } from 'idb';
import { keptOf, lineOfFact, type KeptLine, type OldFact } from './journal';

// A day that follows on the same packs.
export interface Next {
  day: string; // id
  charged: boolean; // in the night before it
}

export interface Step {
  what: string; // the edit in words, for "undo: ..."
  day: string; // the day before it (undo) or after it (redo), as JSON
  row?: Next[]; // likewise
}

export interface SavedDay {
  id: string;
  name: string;
  day: string; // JSON of a day file, docs/formats.md
  undo: Step[];
  redo: Step[];
  changed_at: string; // ISO 8601 with zone
  row?: Next[]; // as it was made; none: nobody has made one
}

export function withRow<Kind extends { row?: Next[] }>(of: Kind, row: Next[] | undefined): Kind {
  const { row: _, ...rest } = of;
  return { ...rest, ...(row ? { row } : {}) } as Kind;
}
// Whether nobody has edited, undone or renamed between the two.
export const sameVersion = (a: SavedDay, b: SavedDay): boolean =>
  a.day === b.day && a.name === b.name && a.changed_at === b.changed_at && a.undo.length === b.undo.length && a.redo.length === b.redo.length && JSON.stringify(a.row) === JSON.stringify(b.row);
export const stepOf = (what: string, { day, row }: SavedDay): Step => withRow<Step>({ what, day }, row);

export interface Settings {
  theme: 'black' | 'sunlight';
  locked: boolean;
  current: string | null;
  persistent: boolean;
  device: string; // how this device signs its lines
}

interface Schema extends DBSchema {
  days: { key: string; value: SavedDay };
  facts: { key: string; value: OldFact; indexes: { by_day: string } }; // of version 1
  lines: { key: string; value: KeptLine; indexes: { by_day: string } };
  settings: { key: string; value: unknown };
}

export type Store = IDBPDatabase<Schema>;

export const kFormat = 2;

export function open(name = 'tillwrap'): Promise<Store> {
  return openDB<Schema>(name, kFormat, {
    async upgrade(db, from, _to, work) {
      if (from < 1) {
        db.createObjectStore('days', { keyPath: 'id' });
        db.createObjectStore('settings');
      }
      const lines = db.createObjectStore('lines', { keyPath: 'text' });
      lines.createIndex('by_day', 'day_id');
      if (from === 1) {
        for (const fact of await work.objectStore('facts').getAll()) await lines.put(lineOfFact(fact));
        db.deleteObjectStore('facts');
      }
    },
  });
}

export const kSettings: Settings = { theme: 'black', locked: false, current: null, persistent: false, device: '' };

export async function settings(db: Store): Promise<Settings> {
  const out = { ...kSettings };
  for (const key of Object.keys(out) as (keyof Settings)[]) {
    const value = await db.get('settings', key);
    if (value !== undefined) (out as Record<string, unknown>)[key] = value;
  }
  return out;
}

// Everything as one text, and back. Import adds or replaces by id; it is checked whole before anything is written.
export interface Export {
  format: 'tillwrap-export-2';
  days: SavedDay[];
  lines: { text: string; day_id: string; kept?: boolean }[];
}

export async function exported(db: Store, only?: string[], unsaved: SavedDay[] = [], unsavedLines: KeptLine[] = []): Promise<string> {
  const kept = (await db.getAll('days')).filter((day) => !unsaved.some((one) => one.id === day.id));
  const all = [...kept, ...unsaved];
  const days = only ? only.flatMap((id) => all.find((day) => day.id === id) ?? []) : all;
  const stored = (await db.getAll('lines')).filter((line) => !unsavedLines.some((one) => one.text === line.text));
  const lines = [...stored, ...unsavedLines]
    .filter((line) => only === undefined || only.includes(line.day_id))
    .map(({ text, day_id, kept }) => ({ text, day_id, ...(kept ? { kept } : {}) }));
  const out: Export = { format: 'tillwrap-export-2', days, lines };
  return JSON.stringify(out, null, 1) + '\n';
}

export class ImportError extends Error {}

const isText = (value: unknown): value is string => typeof value === 'string';

// As read: of either version, lines in their final form.
interface Checked {
  days: SavedDay[];
  lines: KeptLine[];
}

function checked(text: string): Checked {
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch (error) {
    throw new ImportError(`This is no tillwrap file: ${(error as Error).message}. Nothing was changed.`);
  }
  const all = data as Partial<Omit<Export, 'format'>> & { format?: string; facts?: OldFact[] };
  if (typeof data !== 'object' || data === null || all.format === undefined)
    throw new ImportError('This file has no "format": it is no tillwrap export. Nothing was changed.');
  if (all.format !== 'tillwrap-export-1' && all.format !== 'tillwrap-export-2')
    throw new ImportError(`This file is of format "${String(all.format).slice(0, 40)}", this page reads tillwrap-export-1 and -2. Nothing was changed.`);
  for (const key of ['days', 'facts', 'lines'] as const)
    if (all[key] !== undefined && !Array.isArray(all[key])) throw new ImportError(`"${key}" of the file is no list. Nothing was changed.`);
  const isRow = (row: unknown): boolean =>
    row === undefined || (Array.isArray(row) && row.every((next: Next) => isText(next?.day) && typeof next.charged === 'boolean'));
  const steps = (list: unknown): boolean =>
    Array.isArray(list) && list.every((step: Step) => isText(step?.what) && isText(step.day) && isRow(step.row));
  (all.days ?? []).forEach((day, i) => {
    const where = `day ${i + 1} of the file`;
    if (!isText(day?.id) || !isText(day.name) || !isText(day.day) || !isText(day.changed_at) || !steps(day.undo) || !steps(day.redo) || !isRow(day.row))
      throw new ImportError(`In ${where} something is missing or of the wrong kind. Nothing was changed.`);
    try {
      JSON.parse(day.day);
    } catch (error) {
      throw new ImportError(`In ${where} the day itself is broken: ${(error as Error).message}. Nothing was changed.`);
    }
  });
  const kinds = ['changed', 'reading', 'period', 'late', 'taken_back'];
  const facts = (all.facts ?? []).map((fact, i) => {
    if (!isText(fact?.id) || !isText(fact.day_id) || !isText(fact.at) || !isText(fact.entered_at) || !kinds.includes(fact.kind) || typeof fact.data !== 'object' || fact.data === null)
      throw new ImportError(`Fact ${i + 1} of the file is incomplete. Nothing was changed.`);
    return lineOfFact(fact);
  });
  const lines = (all.lines ?? []).map((line, i) => {
    const kept = isText(line?.text) && isText(line.day_id) ? keptOf(line.text, line.day_id) : null;
    if (!kept) throw new ImportError(`Line ${i + 1} of the file's journal is incomplete. Nothing was changed.`);
    return { ...kept, ...(line.kept === true ? { kept: true } : {}) };
  });
  return { days: all.days ?? [], lines: [...facts, ...lines] };
}

// One transaction: all of it or nothing. The ids of its days, in their order.
export async function imported(db: Store, text: string): Promise<{ days: string[]; lines: number }> {
  const all = checked(text);
  const work = db.transaction(['days', 'lines'], 'readwrite');
  for (const day of all.days) void work.objectStore('days').put(day);
  for (const line of all.lines) void work.objectStore('lines').put(line);
  await work.done;
  return { days: all.days.map((day) => day.id), lines: all.lines.length };
}

// Time-ordered unique ids: milliseconds in 48 bits, then 74 random bits (UUID version 7, RFC 9562).
export function newId(now: number, random: Uint8Array): string {
  const bytes = new Uint8Array(16);
  for (let i = 0; i < 6; ++i) bytes[i] = Math.floor(now / 2 ** (8 * (5 - i))) % 256;
  bytes.set(random.subarray(0, 10), 6);
  bytes[6] = (bytes[6]! & 0x0f) | 0x70;
  bytes[8] = (bytes[8]! & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

export const freshRandom = (): Uint8Array => crypto.getRandomValues(new Uint8Array(10));

// Ids of this page sort in the order they were made, within one millisecond too.
let last = 0;
export function freshId(): string {
  last = Math.max(Date.now(), last + 1);
  return newId(last, freshRandom());
}

// ISO 8601 with this device's zone.
export function zoned(at: Date): string {
  const minutes = -at.getTimezoneOffset();
  const sign = minutes < 0 ? '-' : '+';
  const two = (n: number) => String(Math.floor(Math.abs(n))).padStart(2, '0');
  const local = new Date(at.getTime() + minutes * 60_000).toISOString().slice(0, 19);
  return `${local}${sign}${two(minutes / 60)}:${two(Math.abs(minutes) % 60)}`;
}
