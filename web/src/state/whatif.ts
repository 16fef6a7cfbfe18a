// What-ifs: each changes a copy of the day and says how. Pure.
import { usualDraw, type Find } from './entry';
import { clockSeconds, clockText, degrees, quantity, tables, text, type DayJson, type Json, type Table } from './day';

export interface WhatIf {
  air_c: number; // added to every period
  load: number; // times every draw
  wrap_min: number; // later
  charge: number; // added to every pack's charge at the start, a share of full; packs end at full and at 1 %
  cable: number; // times every length
}

export const kAsWritten: WhatIf = { air_c: 0, load: 1, wrap_min: 0, charge: 0, cable: 1 };

// How far each goes, in steps of a finger and of a tap.
export const kRanges: Record<keyof WhatIf, { least: number; most: number; fine: number; coarse: number }> = {
  air_c: { least: -30, most: 30, fine: 1, coarse: 2 },
  load: { least: 0.5, most: 2, fine: 0.01, coarse: 0.05 },
  wrap_min: { least: -240, most: 360, fine: 5, coarse: 15 },
  charge: { least: -0.6, most: 0.4, fine: 0.01, coarse: 0.05 },
  cable: { least: 0.5, most: 10, fine: 0.1, coarse: 0.5 },
};

// Wrap stays an hour after call at least, and within the 20 hours a day may last.
export function ranges(day: DayJson): typeof kRanges {
  const head = (day.day ?? {}) as Table;
  const [call_s, wrap_s] = [clockSeconds(text(head, 'call')), clockSeconds(text(head, 'wrap'))];
  if (call_s === null || wrap_s === null) return kRanges;
  const minutes = ((wrap_s - call_s + 86400) % 86400) / 60;
  const { least, most } = kRanges.wrap_min;
  return { ...kRanges, wrap_min: { ...kRanges.wrap_min, least: Math.min(0, Math.max(least, 60 - minutes)), most: Math.max(0, Math.min(most, 1200 - minutes)) } };
}

export const isChanged = (w: WhatIf): boolean =>
  w.air_c !== 0 || w.load !== 1 || w.wrap_min !== 0 || w.charge !== 0 || w.cable !== 1;

const isTable = (value: Json | undefined): value is Table => typeof value === 'object' && value !== null && !Array.isArray(value);

const round = (value: number, digits = 3): number => Number(value.toFixed(digits));

function later(written: string, minutes: number): string {
  const at_s = clockSeconds(written);
  return at_s === null ? written : clockText(at_s + 60 * minutes);
}

const moved = (table: Table, key: string, minutes: number) => {
  if (typeof table[key] === 'string') table[key] = later(table[key] as string, minutes);
};

// "8.2 W" times a factor; "1.4 A at 14.6 V" keeps its volts. As it was where it is written another way.
function scaled(written: string, factor: number): string {
  const found = /^\s*(\d*\.?\d+)\s*(m?W|kW|m?A|watts?|amps?)\b(.*)$/i.exec(written);
  return found ? `${round(Number(found[1]) * factor, 4)} ${found[2]}${found[3]}` : written;
}

function heavier(day: DayJson, factor: number, find: Find): void {
  for (const [list, of] of [['device', 'devices'], ['box', 'boxes']] as const)
    for (const thing of tables(day, list)) {
      const key = Object.keys(thing).find((one) => /^draw(_m?[wa])?$/.test(one));
      const value = key === undefined ? undefined : thing[key];
      if (typeof value === 'string') thing[key!] = scaled(value, factor);
      else if (typeof value === 'number') thing[key!] = round(value * factor, 6);
      else {
        // What the catalogue takes for usual, written out.
        const entry = find(of, text(thing, 'kind'));
        const usual = entry ? usualDraw(entry) : '';
        if (usual !== '') thing.draw = scaled(usual, factor);
      }
      const modes = thing.modes;
      if (typeof modes === 'object' && modes !== null && !Array.isArray(modes))
        for (const [name, draw] of Object.entries(modes)) if (typeof draw === 'string') modes[name] = scaled(draw, factor);
    }
  for (const measured of tables(day, 'measured')) if (typeof measured.draw === 'string') measured.draw = scaled(measured.draw, factor);
}

// Clock times of a day that may run past midnight, as seconds after the midnight before its first period.
function clockOf(day: DayJson): (written: string) => number | null {
  const first_s = clockSeconds(text(tables(day, 'period')[0] ?? {}, 'from')) ?? 0;
  return (written) => {
    const at_s = clockSeconds(written);
    return at_s === null ? null : at_s < first_s ? at_s + 86400 : at_s;
  };
}

// Wrap and what follows it, later or earlier. A stretch that would begin after the new wrap does not take place; what was
// planned for after the new off has no time of its own any more.
function wrapped(day: DayJson, minutes: number): void {
  const head = day.day as Table;
  const into = clockOf(day);
  const wrap_s = into(text(head, 'wrap'));
  if (wrap_s === null) return;
  const end_s = wrap_s + 60 * minutes;
  moved(head, 'wrap', minutes);
  moved(head, 'off', minutes);
  day.period = tables(day, 'period').filter((period) => {
    const from_s = into(text(period, 'from'));
    if (from_s === null || from_s < Math.min(wrap_s, end_s)) return true;
    if (from_s < wrap_s) return false;
    moved(period, 'from', minutes);
    return true;
  });
  if (minutes > 0) return;
  const off = text(head, 'off') || text(head, 'wrap');
  const off_s = into(off)!;
  const after = (written: string) => (into(written) ?? -1) >= off_s;
  for (const holder of tables(day, 'holder'))
    if (Array.isArray(holder.packs))
      holder.packs = holder.packs.map((slot) => (isTable(slot) && after(text(slot, 'at')) ? text(slot, 'pack') : slot));
  for (const charger of tables(day, 'charger'))
    if (Array.isArray(charger.bays))
      charger.bays = charger.bays.map((bay) =>
        Array.isArray(bay)
          ? bay.filter((turn) => !isTable(turn) || !after(text(turn, 'from'))).map((turn) => (isTable(turn) && after(text(turn, 'until')) ? { ...turn, until: off } : turn))
          : bay,
      );
  for (const period of tables(day, 'period')) {
    if (after(text(period, 'until'))) delete period.until;
    if (!isTable(period.no_hands)) continue;
    for (const [place, stretch] of Object.entries(period.no_hands)) {
      const [from = '', until = ''] = String(stretch).split(/[-–]/).map((part) => part.trim());
      if (after(from)) delete period.no_hands[place];
      else if (after(until)) period.no_hands[place] = `${from}-${off}`;
    }
  }
}

export function apply(day: DayJson, w: WhatIf, find: Find): void {
  if (w.air_c !== 0) {
    for (const period of tables(day, 'period')) {
      const celsius = degrees(text(period, 'air'));
      if (celsius !== null) period.air = `${round(celsius + w.air_c, 1)} °C`;
    }
  }
  if (w.load !== 1) heavier(day, w.load, find);
  if (w.wrap_min !== 0) wrapped(day, w.wrap_min);
  if (w.charge !== 0) {
    for (const pack of tables(day, 'pack')) {
      const written = quantity(text(pack, 'charge'), /^%$/);
      const before = written === null ? 100 : written;
      pack.charge = `${round(Math.min(100, Math.max(1, before + 100 * w.charge)), 1)} %`;
    }
  }
  if (w.cable !== 1) {
    for (const wire of tables(day, 'wire')) {
      const found = /^\s*([\d.]+)\s*(m|cm|mm|ft|in)\s*$/.exec(text(wire, 'length'));
      if (found) wire.length = `${round(Number(found[1]) * w.cable, 3)} ${found[2]}`;
    }
  }
}
