// Edits of a day: each changes the day it is given. Pure; what is kept and undone is in app.svelte.ts.
import { copy, freeName, labels, renamed, tables, text, valueAt, type DayJson, type Json, type Path, type Table } from './day';

export type Things = 'period' | 'pack' | 'holder' | 'box' | 'source' | 'charger' | 'device' | 'wire' | 'place' | 'measured';

// The key as it is written: "length", or "length_m" where the unit is in the key.
export function writtenKey(table: Table, key: string): string {
  if (key in table) return key;
  const units = /^(w|mw|a|ma|v|ah|mah|wh|c|k|m|cm|mm|ft|in|h|min|s|f|uf|ohm)$/;
  return Object.keys(table).find((other) => other.startsWith(`${key}_`) && units.test(other.slice(key.length + 1).toLowerCase())) ?? key;
}

export const shown = (value: Json | undefined): string =>
  value === undefined || value === null
    ? ''
    : Array.isArray(value)
      ? value.map((one) => (typeof one === 'string' ? one : JSON.stringify(one))).join(', ')
      : typeof value === 'object'
        ? JSON.stringify(value)
        : String(value);

// What was typed, in the kind of value that stood there; empty takes the key out.
export function typed(was: Json | undefined, entered: string, list: boolean): Json | undefined {
  const value = entered.trim();
  if (value === '') return undefined;
  if (list)
    return value
      .split(',')
      .map((one) => one.trim())
      .filter((one) => one !== '');
  if (typeof was === 'number' && Number.isFinite(Number(value))) return Number(value);
  if (typeof was === 'boolean' && (value === 'true' || value === 'false')) return value === 'true';
  return value;
}

export function put(day: Table, path: Path, value: Json | undefined): void {
  const inside = valueAt(day, path.slice(0, -1)) as Table | undefined;
  const key = path.at(-1)!;
  if (inside === undefined) {
    if (value === undefined) return;
    put(day, path.slice(0, -1), { [key]: value });
  } else if (value === undefined) {
    delete inside[key];
  } else {
    inside[key] = value;
  }
}

// A new name for a thing, and for all that points at it.
export function rename(day: DayJson, from: string, to: string): void {
  if (from === '' || to === '' || from === to) return;
  Object.assign(day, renamed(day, from, to));
}

// A period's name stands in readings too, and may be the same as a thing's.
export function renamePeriod(day: DayJson, index: number, from: string, to: string): void {
  tables(day, 'period')[index]!.name = to;
  if (from === '' || to === '') return;
  for (const measured of tables(day, 'measured')) if (text(measured, 'during') === from) measured.during = to;
}

export const thingName = (list: Things, thing: Table): string =>
  list === 'pack' ? labels(thing).join(', ')
  : list === 'wire' ? `${text(thing, 'from')} → ${text(thing, 'to')}`
  : list === 'measured' ? text(thing, 'at')
  : text(thing, 'name');

// A label that follows the others: P3 after P2.
export function freeLabel(day: Table, like: string): string {
  const stem = like.replace(/\s*\d+$/, '');
  const gap = /\s\d+$/.test(like) || !/\d$/.test(like) ? ' ' : '';
  for (let n = 1; ; ++n) {
    const label = `${stem}${gap}${n}`;
    if (freeName(day, label) === label) return label;
  }
}

export const slotLabel = (slot: Json): string =>
  typeof slot === 'string' ? slot : typeof slot === 'object' && slot !== null && !Array.isArray(slot) ? text(slot, 'pack') : '';

export function copyThing(day: DayJson, list: Things, index: number): void {
  const all = tables(day, list);
  const made = copy(all[index]!);
  if (list === 'pack') {
    const label = freeLabel(day, labels(made)[0] ?? 'P1');
    delete made.labels;
    made.label = label;
  } else if (list === 'device') {
    made.name = freeLabel(day, text(made, 'name'));
  } else {
    made.name = freeName(day, text(made, 'name'));
  }
  day[list] = [...all.slice(0, index + 1), made, ...all.slice(index + 1)];
}

// With everything that would point at nothing.
export function removeThing(day: DayJson, list: Things, index: number): void {
  const gone = tables(day, list)[index]!;
  const take = (from: string, which: (table: Table) => boolean) => {
    if (!Array.isArray(day[from])) return;
    const rest = tables(day, from).filter((table) => !which(table));
    if (rest.length > 0) day[from] = rest;
    else delete day[from];
  };
  const dropPacks = (names: string[]) => {
    for (const holder of tables(day, 'holder'))
      if (Array.isArray(holder.packs)) holder.packs = holder.packs.filter((slot) => !names.includes(slotLabel(slot)));
    for (const charger of tables(day, 'charger'))
      if (Array.isArray(charger.bays))
        charger.bays = charger.bays.map((bay) => (Array.isArray(bay) ? bay.filter((slot) => !names.includes(slotLabel(slot))) : bay));
  };
  const all = tables(day, list);
  day[list] = all.filter((_, i) => i !== index);
  if ((day[list] as Json[]).length === 0 && list !== 'device') delete day[list];
  const name = text(gone, 'name');
  const at = (place: string) => name !== '' && (place === name || place.startsWith(`${name}.`));
  const without = (key: string, names: string[]) => {
    for (const period of tables(day, 'period')) {
      const value = period[key];
      if (Array.isArray(value)) period[key] = value.filter((one) => !names.includes(String(one)));
      else if (typeof value === 'object' && value !== null) for (const one of names) delete value[one];
      const left = period[key];
      if (typeof left === 'object' && left !== null && Object.keys(left).length === 0) delete period[key];
    }
  };
  if (list === 'pack') dropPacks(labels(gone));
  if (list === 'period') take('measured', (measured) => text(measured, 'during') === name);
  if (list === 'place') {
    for (const of of ['pack', 'holder', 'box', 'source', 'device', 'wire', 'charger'])
      for (const table of tables(day, of)) for (const key of ['place', 'spare']) if (table[key] === name) delete table[key];
    without('no_hands', [name]);
  }
  if (list === 'source' || list === 'charger') {
    without('live', [name]);
    for (const charger of tables(day, 'charger')) if (charger.source === name) delete charger.source;
  }
  if (list === 'holder') for (const source of tables(day, 'source')) if (source.in === name) delete source.in;
  if (list === 'device' || list === 'box') {
    const held = tables(day, 'holder').filter((holder) => at(text(holder, 'in')));
    const names = held.map((holder) => text(holder, 'name'));
    const inside = (holder: Table) => (Array.isArray(holder.packs) ? holder.packs.map(slotLabel) : []);
    const used = held.flatMap(inside);
    take('holder', (holder) => at(text(holder, 'in')));
    take('wire', (wire) => names.some((one) => text(wire, 'from') === one || text(wire, 'from').startsWith(`${one}.`)));
    for (const source of tables(day, 'source')) if (names.includes(text(source, 'in'))) delete source.in;
    if (list === 'device') {
      // Its own cells go with it; what sat in a box stays, to be put in elsewhere.
      const elsewhere = tables(day, 'holder').flatMap(inside);
      const orphans = used.filter((label) => !elsewhere.includes(label));
      take('pack', (pack) => labels(pack).length > 0 && labels(pack).every((label) => orphans.includes(label)));
    }
  }
  if (list !== 'wire' && list !== 'period' && list !== 'measured' && list !== 'pack') {
    take('wire', (wire) => at(text(wire, 'to')) || at(text(wire, 'from')));
    take('measured', (measured) => at(text(measured, 'at')));
  }
  if (list === 'device') {
    const group = text(gone, 'group');
    const names = [name, ...(group && !tables(day, 'device').some((device) => text(device, 'group') === group) ? [group] : [])];
    for (const key of ['off', 'on', 'modes']) without(key, names);
  }
}

export const slots = (holder: Table): { label: string; at: string }[] =>
  (Array.isArray(holder.packs) ? holder.packs : []).map((slot) => ({
    label: slotLabel(slot),
    at: typeof slot === 'object' && slot !== null && !Array.isArray(slot) ? text(slot, 'at') : '',
  }));

export function setSlots(holder: Table, list: { label: string; at: string }[]): void {
  holder.packs = list.map(({ label, at }) => (at.trim() === '' ? label : { pack: label, at: at.trim() }));
}

// Places nobody may reach: all of the period, or from–until.
export function noHands(period: Table): Record<string, string> {
  const value = period.no_hands;
  if (Array.isArray(value)) return Object.fromEntries(value.map((place) => [String(place), '']));
  if (typeof value === 'object' && value !== null) return Object.fromEntries(Object.entries(value).map(([place, when]) => [place, shown(when)]));
  return {};
}

export function setNoHands(period: Table, places: Record<string, string>, from: string, until: string): void {
  const all = Object.entries(places);
  if (all.length === 0) delete period.no_hands;
  else if (all.every(([, when]) => when.trim() === '')) period.no_hands = all.map(([place]) => place);
  else period.no_hands = Object.fromEntries(all.map(([place, when]) => [place, when.trim() || `${from}-${until}`]));
}

// Bays of a charger: in each the turns of packs, from–until.
export interface Turn {
  pack: string;
  from: string;
  until: string;
}
export const bays = (charger: Table, count: number): Turn[][] => {
  const list = Array.isArray(charger.bays) ? charger.bays : [];
  const turn = (slot: Json): Turn => {
    const table = typeof slot === 'object' && slot !== null && !Array.isArray(slot) ? slot : {};
    return { pack: slotLabel(slot), from: text(table, 'from'), until: text(table, 'until') };
  };
  return Array.from({ length: Math.max(count, list.length) }, (_, k) => (Array.isArray(list[k]) ? list[k].map(turn) : []));
};

export function setBays(charger: Table, list: Turn[][]): void {
  charger.bays = list.map((bay) => bay.map(({ pack, from, until }) => ({ pack, ...(from ? { from } : {}), ...(until ? { until } : {}) })));
}
