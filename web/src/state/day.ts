// The day as the page edits it: the JSON form of a day file. Pure functions; what is kept and shown is in app.svelte.ts.

export type Json = string | number | boolean | null | Json[] | { [key: string]: Json };
export type Table = { [key: string]: Json };

export interface DayJson extends Table {
  format: number;
}

export const tables = (day: Table, key: string): Table[] => (Array.isArray(day[key]) ? (day[key] as Table[]) : []);

export const text = (table: Table, key: string): string => (typeof table[key] === 'string' ? (table[key] as string) : '');

export function labels(pack: Table): string[] {
  if (Array.isArray(pack.labels)) return pack.labels.filter((label): label is string => typeof label === 'string');
  return text(pack, 'label') ? [text(pack, 'label')] : [];
}

// "-6 °C" -> -6; nothing when it is written another way.
export function degrees(written: string): number | null {
  const found = /^\s*([-+−]?)\s*(\d+(?:\.\d+)?)\s*°?\s*C\s*$/.exec(written);
  if (!found) return null;
  return (found[1] === '-' || found[1] === '−' ? -1 : 1) * Number(found[2]);
}

export function quantity(written: string, unit: RegExp): number | null {
  const found = /^\s*([-+−]?\d*\.?\d+)\s*(.*?)\s*$/.exec(written.replace('−', '-'));
  return found && unit.test(found[2]!) ? Number(found[1]) : null;
}

// "07:10" -> seconds after midnight.
export function clockSeconds(written: string): number | null {
  const found = /^(\d{1,2}):(\d{2})(?::(\d{2}))?$/.exec(written.trim());
  if (!found) return null;
  const [hours, minutes, seconds] = [Number(found[1]), Number(found[2]), Number(found[3] ?? 0)];
  return hours < 24 && minutes < 60 && seconds < 60 ? hours * 3600 + minutes * 60 + seconds : null;
}

export function clockText(at_s: number): string {
  const minutes = ((Math.round(at_s / 60) % 1440) + 1440) % 1440;
  return `${String(Math.floor(minutes / 60)).padStart(2, '0')}:${String(minutes % 60).padStart(2, '0')}`;
}

// The text sent to the engine, one value a line, so that a line in a complaint leads back to the field.
export const written = (day: Table): string => JSON.stringify(day, null, 1);

export type Path = (string | number)[];

// Which value `written(day)` has on a line, counted from 1.
export function pathAtLine(day: Table, line: number): Path | null {
  let at = 0;
  let found: Path | null = null;
  const visit = (value: Json, path: Path): void => {
    at += 1;
    if (at === line) found = path;
    if (typeof value !== 'object' || value === null) return;
    const children = Array.isArray(value) ? value.map((child, i) => [i, child] as const) : Object.entries(value);
    for (const [key, child] of children) visit(child, [...path, key]);
    if (children.length > 0) {
      at += 1; // the closing bracket
      if (at === line && !found) found = path;
    }
  };
  visit(day, []);
  return found;
}

export function valueAt(day: Table, path: Path): Json | undefined {
  let value: Json | undefined = day;
  for (const key of path) value = (value as { [key: string]: Json } | undefined)?.[key as string];
  return value;
}

export function copy<T>(value: T): T {
  return JSON.parse(JSON.stringify(value)) as T;
}

// Every place a name stands in: renaming a thing renames what points at it.
export function renamed(day: Table, from: string, to: string): Table {
  const pointing = new Set(['pack', 'packs', 'label', 'labels', 'name', 'in', 'from', 'to', 'at', 'live', 'off', 'on', 'source', 'bays', 'place', 'spare', 'group', 'no_hands']);
  const keyed = new Set(['no_hands']);
  const change = (value: Json, key: string): Json => {
    if (key === 'params') return value; // a file of its own
    if (typeof value === 'string') {
      if (!pointing.has(key)) return value;
      if (value === from) return to;
      return value.startsWith(from + '.') ? to + value.slice(from.length) : value;
    }
    if (Array.isArray(value)) return value.map((child) => change(child, key));
    if (typeof value === 'object' && value !== null)
      return Object.fromEntries(Object.entries(value).map(([inner, child]) => [keyed.has(key) && inner === from ? to : inner, change(child, inner)]));
    return value;
  };
  const out = change(day, '') as Table;
  // In a period modes are by device; in a device they are the modes' own names.
  for (const period of tables(out, 'period')) {
    const modes = period.modes;
    if (typeof modes === 'object' && modes !== null && !Array.isArray(modes))
      period.modes = Object.fromEntries(Object.entries(modes).map(([name, mode]) => [name === from ? to : name, mode]));
  }
  return out;
}

export function freeName(day: Table, wanted: string): string {
  const taken = new Set<string>();
  for (const key of ['holder', 'box', 'device', 'source', 'charger', 'place'])
    for (const table of tables(day, key)) taken.add(text(table, 'name'));
  for (const pack of tables(day, 'pack')) for (const label of labels(pack)) taken.add(label);
  const base = wanted.replaceAll('.', ' ').trim() || 'thing';
  if (!taken.has(base)) return base;
  for (let n = 2; ; ++n) if (!taken.has(`${base} ${n}`)) return `${base} ${n}`;
}

// A day as the command line reads it, TOML or JSON, and not what this page saved; what is neither is no day file.
export function isDayFile(read: string): boolean {
  try {
    const found = JSON.parse(read) as { format?: unknown } | null;
    return typeof found === 'object' && found !== null && !Array.isArray(found) && typeof found.format === 'number';
  } catch {
    return /^\s*format\s*=\s*\d/m.test(read) && !/^\s*\{/.test(read);
  }
}
