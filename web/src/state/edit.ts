// Edits of a day: each changes the day it is given. Pure; what is kept and undone is in app.svelte.ts.
import { copy, freeName, labels, renamed, tables, text, valueAt, type DayJson, type Json, type Path, type Table } from './day';
import type { Entry } from './catalogue.svelte';

export type Things = 'pack' | 'holder' | 'device' | 'wire' | 'period' | 'box';

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

export const thingName = (list: Things, thing: Table): string =>
  list === 'pack' ? labels(thing).join(', ') : list === 'wire' ? `${text(thing, 'from')} → ${text(thing, 'to')}` : text(thing, 'name');

// A label that follows the others: P3 after P2.
function freeLabel(day: Table, like: string): string {
  const stem = like.replace(/\s*\d+$/, '');
  const gap = /\s\d+$/.test(like) || !/\d$/.test(like) ? ' ' : '';
  for (let n = 1; ; ++n) {
    const label = `${stem}${gap}${n}`;
    if (freeName(day, label) === label) return label;
  }
}

const slotLabel = (slot: Json): string =>
  typeof slot === 'string' ? slot : typeof slot === 'object' && slot !== null && !Array.isArray(slot) ? text(slot, 'pack') : '';

export function addPack(day: DayJson, kind: string, stem = 'P'): string {
  const label = freeLabel(day, `${stem}1`);
  day.pack = [...tables(day, 'pack'), { label, kind }];
  return label;
}

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
  if (list === 'pack') dropPacks(labels(gone));
  if (list === 'device') {
    const name = text(gone, 'name');
    const at = (place: string) => place === name || place.startsWith(`${name}.`);
    const held = tables(day, 'holder').filter((holder) => at(text(holder, 'in')));
    const used = held.flatMap((holder) => (Array.isArray(holder.packs) ? holder.packs.map(slotLabel) : []));
    take('holder', (holder) => at(text(holder, 'in')));
    take('wire', (wire) => at(text(wire, 'to')) || held.some((holder) => text(holder, 'name') === text(wire, 'from')));
    take('measured', (measured) => at(text(measured, 'at')));
    const elsewhere = tables(day, 'holder').flatMap((holder) => (Array.isArray(holder.packs) ? holder.packs.map(slotLabel) : []));
    const orphans = used.filter((label) => !elsewhere.includes(label));
    take('pack', (pack) => labels(pack).length > 0 && labels(pack).every((label) => orphans.includes(label)));
    const group = text(gone, 'group');
    const names = [name, ...(group && !tables(day, 'device').some((device) => text(device, 'group') === group) ? [group] : [])];
    for (const period of tables(day, 'period'))
      for (const key of ['off', 'on'])
        if (Array.isArray(period[key])) period[key] = (period[key] as Json[]).filter((one) => !names.includes(String(one)));
  }
}

// A device with what feeds it: cells in its own door, or a lead from a free output of the first box.
export function addDevice(day: DayJson, entry: Entry, find: (list: 'boxes' | 'holders', id: string) => Entry | undefined): string {
  const name = freeName(day, entry.id.replaceAll('-', ' '));
  day.device = [...tables(day, 'device'), { name, kind: entry.id }];
  const box = tables(day, 'box')[0];
  const sockets = (entry.values.input ?? []).filter((input) => !input.plug.endsWith('contacts'));
  const outputs = (box ? (find('boxes', text(box, 'kind'))?.values.output ?? []) : []).filter(
    (output) => !tables(day, 'wire').some((wire) => text(wire, 'from') === `${text(box!, 'name')}.${output.name}`),
  );
  const input = sockets[0];
  const holder = entry.values.holders?.at(-1);
  if (input && outputs.length > 0) {
    const most_v = input.most_v ?? 99;
    const worth = (output: (typeof outputs)[number]) =>
      (output.plug === input.plug ? 0 : 2) + ((output.regulator !== undefined) === most_v < 16.8 ? 0 : 8) + (output.always_on ? 4 : 0);
    const best = [...outputs].sort((a, b) => worth(a) - worth(b))[0]!;
    const wire = { from: `${text(box!, 'name')}.${best.name}`, to: `${name}.${input.name}`, length: '0.4 m', wire: 'AWG 22', plugs: [best.plug, input.plug] };
    day.wire = [...tables(day, 'wire'), wire];
  } else if (holder) {
    const fits = find('holders', holder)?.values.fits ?? [];
    const kind = fits.find((id) => tables(day, 'pack').some((pack) => text(pack, 'kind') === id)) ?? fits[0] ?? '';
    const cells = [addPack(day, kind, `${name} cells `), addPack(day, kind, `${name} cells `)];
    day.holder = [...tables(day, 'holder'), { name: freeName(day, `${name} door`), kind: holder, in: name, packs: cells }];
  }
  return name;
}

// A period in the middle of the last one before wrap, with the air of the one before it.
export function addPeriod(day: DayJson, name: string, from: string): void {
  const all = tables(day, 'period');
  const before = all.filter((period) => text(period, 'from') <= from).at(-1) ?? all[0];
  const made: Table = { name: freeName(day, name), from, air: before ? text(before, 'air') : '10 °C' };
  const place = before ? all.indexOf(before) + 1 : 0;
  day.period = [...all.slice(0, place), made, ...all.slice(place)];
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
