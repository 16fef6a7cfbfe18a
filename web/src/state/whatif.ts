// What-ifs: each changes a copy of the day and says how. Pure.
import { clockSeconds, clockText, degrees, quantity, tables, text, type DayJson, type Table } from './day';

export interface WhatIf {
  air_c: number; // added to every period
  load: number; // times every draw
  wrap_min: number; // later
  charge: number; // share of every rechargeable pack's charge taken away
  cable: number; // times every length
}

export const kAsWritten: WhatIf = { air_c: 0, load: 1, wrap_min: 0, charge: 0, cable: 1 };

export const isChanged = (w: WhatIf): boolean =>
  w.air_c !== 0 || w.load !== 1 || w.wrap_min !== 0 || w.charge !== 0 || w.cable !== 1;

const round = (value: number, digits = 3): number => Number(value.toFixed(digits));

function later(written: string, minutes: number): string {
  const at_s = clockSeconds(written);
  return at_s === null ? written : clockText(at_s + 60 * minutes);
}

const moved = (table: Table, key: string, minutes: number) => {
  if (typeof table[key] === 'string') table[key] = later(table[key] as string, minutes);
};

const kDraw = /^(m?W|k?W|m?A|watts?|amps?)$/i;

// Scales what is written; a draw the catalogue gives is scaled through `scaled`.
export function apply(day: DayJson, w: WhatIf): void {
  if (w.air_c !== 0) {
    for (const period of tables(day, 'period')) {
      const celsius = degrees(text(period, 'air'));
      if (celsius !== null) period.air = `${round(celsius + w.air_c, 1)} °C`;
    }
  }
  if (w.load !== 1) {
    for (const device of [...tables(day, 'device'), ...tables(day, 'box')]) {
      const written = text(device, 'draw');
      const unit = written.replace(/^[\s\d.+-]*/, '').trim();
      const value = quantity(written, kDraw);
      if (value !== null) device.draw = `${round(value * w.load, 4)} ${unit}`;
    }
    for (const measured of tables(day, 'measured')) {
      const found = /^\s*([\d.]+)\s*(W|A)(.*)$/.exec(text(measured, 'draw'));
      if (found) measured.draw = `${round(Number(found[1]) * w.load, 4)} ${found[2]}${found[3]}`;
    }
  }
  if (w.wrap_min !== 0) {
    const head = day.day as Table;
    const wrap_s = clockSeconds(text(head, 'wrap'));
    moved(head, 'wrap', w.wrap_min);
    moved(head, 'off', w.wrap_min);
    // What comes at or after wrap moves with it.
    for (const period of tables(day, 'period')) {
      const from_s = clockSeconds(text(period, 'from'));
      if (from_s !== null && wrap_s !== null && from_s >= wrap_s) moved(period, 'from', w.wrap_min);
    }
  }
  if (w.charge !== 0) {
    for (const pack of tables(day, 'pack')) {
      const written = quantity(text(pack, 'charge'), /^%$/);
      const before = written === null ? 100 : written;
      pack.charge = `${round(Math.min(100, Math.max(1, before - 100 * w.charge)), 1)} %`;
    }
  }
  if (w.cable !== 1) {
    for (const wire of tables(day, 'wire')) {
      const found = /^\s*([\d.]+)\s*(m|cm|mm|ft|in)\s*$/.exec(text(wire, 'length'));
      if (found) wire.length = `${round(Number(found[1]) * w.cable, 3)} ${found[2]}`;
    }
  }
}
