// New things in a day, each with what it needs to work: a pack in a holder, a lead to a device. Pure.
import type { Entry, Find } from './entry';
import { bestStart, homes, starts, stops, type End } from './ends';
import { freeName, labels, tables, text, type DayJson, type Table } from './day';
import { freeLabel, slotLabel } from './edit';

const named = (entry: Entry) => entry.id.replaceAll('-', ' ');
const append = (day: DayJson, list: string, made: Table) => {
  day[list] = [...tables(day, list), made];
};

export function addPack(day: DayJson, kind: string, stem = 'P'): string {
  const label = freeLabel(day, `${stem}1`);
  append(day, 'pack', { label, kind });
  return label;
}

// One nobody uses yet; else a new one, of a kind the day has where it can be.
function packFor(day: DayJson, kinds: string[], stem: string): string {
  const used = new Set<string>();
  for (const holder of tables(day, 'holder')) if (Array.isArray(holder.packs)) for (const slot of holder.packs) used.add(slotLabel(slot));
  const free = tables(day, 'pack').filter((pack) => kinds.includes(text(pack, 'kind'))).flatMap(labels).find((label) => !used.has(label));
  if (free !== undefined) return free;
  return addPack(day, kinds.find((kind) => tables(day, 'pack').some((pack) => text(pack, 'kind') === kind)) ?? kinds[0] ?? '', stem);
}

const lead = (from: End, to: { at: string; plug: string }, length: string): Table => {
  const made: Table = { from: from.at, to: to.at, length, wire: 'AWG 22' };
  if (from.plug !== '' && to.plug !== '' && !to.plug.startsWith('cup-') && !to.plug.startsWith('plate-')) made.plugs = [from.plug, to.plug];
  return made;
};

// Fed from its own cells where it has a door, else by a lead from a free output.
export function addDevice(day: DayJson, entry: Entry, find: Find): string {
  const name = freeName(day, named(entry));
  append(day, 'device', { name, kind: entry.id });
  const input = (entry.values.input ?? []).find((one) => !one.plug.endsWith('contacts'));
  const from = input && bestStart(starts(day, find).filter((start) => !start.taken && start.at.includes('.')), { plug: input.plug, most_v: input.most_v ?? null });
  const door = entry.values.holders?.at(-1);
  if (input && from) append(day, 'wire', lead(from, { at: `${name}.${input.name}`, plug: input.plug }, '0.4 m'));
  else if (door) {
    const kinds = find('holders', door)?.values.fits ?? [];
    const kind = kinds.find((id) => tables(day, 'pack').some((pack) => text(pack, 'kind') === id)) ?? kinds[0] ?? '';
    const cells = [addPack(day, kind, `${name} cells `), addPack(day, kind, `${name} cells `)];
    append(day, 'holder', { name: freeName(day, `${name} door`), kind: door, in: name, packs: cells });
  }
  return name;
}

// Built into a box or device that takes one; else with a lead to a free input.
export function addHolder(day: DayJson, entry: Entry, find: Find): string {
  const name = freeName(day, named(entry));
  const pack = packFor(day, entry.values.fits ?? [], 'P');
  const home = homes(day, entry.id, find).find((place) => !place.taken);
  append(day, 'holder', { name, kind: entry.id, ...(home ? { in: home.at } : {}), packs: [pack] });
  if (!home) {
    const from = starts(day, find).find((start) => start.at === name);
    const free = stops(day, find).filter((stop) => !stop.taken);
    const to = free.find((stop) => stop.plug === from?.plug) ?? free[0];
    if (from && to) append(day, 'wire', lead(from, to, '0.5 m'));
  }
  return name;
}

// Fed by a holder of its own, or from what is there.
export function addBox(day: DayJson, entry: Entry, find: Find): string {
  const name = freeName(day, named(entry));
  const free = starts(day, find).filter((start) => !start.taken && !start.regulated);
  append(day, 'box', { name, kind: entry.id });
  const input = entry.values.inputs?.[0] ?? '';
  const built_in = find('holders', input);
  const to = { at: `${name}.in-1`, plug: input };
  const from = free.find((start) => start.plug === input);
  if (built_in) append(day, 'holder', { name: freeName(day, named(built_in)), kind: input, in: name, packs: [packFor(day, built_in.values.fits ?? [], 'P')] });
  else if (from) append(day, 'wire', lead(from, to, '0.5 m'));
  else {
    const kind = input === 'xlr-4' ? 'case-12v-block' : 'pouch-barrel';
    const holder = freeName(day, kind.replaceAll('-', ' '));
    append(day, 'holder', { name: holder, kind, packs: [packFor(day, find('holders', kind)?.values.fits ?? [], 'P')] });
    append(day, 'wire', { from: holder, to: to.at, length: '0.5 m', wire: 'AWG 18' });
  }
  return name;
}

// In place of a pack where a dummy pack goes in and the volts suit it; else with a lead to a free input.
export function addSource(day: DayJson, entry: Entry, find: Find): string {
  const name = freeName(day, named(entry));
  const taken = new Set(tables(day, 'source').map((source) => text(source, 'in')));
  const suits = /smart|cinema/.test(entry.values.plug ?? '') || (entry.values.open_v?.[1] ?? 0) > 13;
  const holder = tables(day, 'holder').find((one) => /^(cup-smart|plate-cinema)/.test(text(one, 'kind')) && !taken.has(text(one, 'name')));
  const made: Table = { name, kind: entry.id };
  const free = stops(day, find).filter((stop) => !stop.taken);
  const from = entry.values.plug ?? '';
  const to = free.find((stop) => stop.plug === from) ?? (suits && holder ? undefined : free.find((stop) => !stop.plug.startsWith('cup-')));
  if (!to && holder) made.in = text(holder, 'name');
  append(day, 'source', made);
  if (to) append(day, 'wire', { from: name, to: to.at, length: '1.5 m', wire: 'AWG 18' });
  return name;
}

export function addCharger(day: DayJson, entry: Entry): string {
  const name = freeName(day, named(entry));
  append(day, 'charger', { name, kind: entry.id, bays: Array.from({ length: entry.values.bays ?? 1 }, () => []) });
  return name;
}

export function addPlace(day: DayJson, wanted: string): string {
  const name = freeName(day, wanted);
  append(day, 'place', { name, like: 'fixed', temperature: '20 °C' });
  return name;
}

// From a free output to a free socket; nothing where one of them is missing.
export function addWire(day: DayJson, find: Find): boolean {
  const free = starts(day, find).filter((start) => !start.taken);
  const to = stops(day, find).filter((stop) => !stop.taken && !stop.plug.startsWith('cup-') && !stop.plug.startsWith('plate-'));
  const same = to.find((stop) => free.some((start) => start.plug === stop.plug && start.of !== stop.of)) ?? to[0];
  const from = same && bestStart(free.filter((start) => start.of !== same.of), same);
  if (!same || !from) return false;
  append(day, 'wire', lead(from, same, '0.5 m'));
  return true;
}

export function addMeasured(day: DayJson): void {
  const at = text(tables(day, 'box')[0] ?? tables(day, 'device')[0] ?? {}, 'name');
  append(day, 'measured', { at, draw: '1 A', during: text(tables(day, 'period')[0] ?? {}, 'name') });
}

// A period an hour before the last one, with the air of the one before it.
export function addPeriod(day: DayJson, name: string, from: string): void {
  const all = tables(day, 'period');
  const before = all.filter((period) => text(period, 'from') <= from).at(-1) ?? all[0];
  const made: Table = { name: freeName(day, name), from, air: before ? text(before, 'air') : '10 °C' };
  const place = before ? all.indexOf(before) + 1 : 0;
  day.period = [...all.slice(0, place), made, ...all.slice(place)];
}
