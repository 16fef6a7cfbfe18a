// What a finger on the strip points at, and what there is to tell of it. Pure.
import type { Stint, StripColumn, StripData } from '../engine/types';
import { clock, percent, temperature, wattHours, type Units } from '../lib/format';
import { en } from '../text/en';
import { pairs, shown, type Frame } from './geometry';

// By number, so that it points at the same thing of the strip a what-if makes. `column` counts in strip.columns.
export type Picked = { what: 'stint'; column: number; stint: number } | { what: 'period'; period: number } | { what: 'volts'; at_s: number };

export interface Told {
  title: string;
  lines: string[];
}

const kVoltsStep_s = 1800;
const kGap = 5; // px around a column that still are its own
const t = en.strip;

export const same = (a: Picked | null, b: Picked): boolean => JSON.stringify(a) === JSON.stringify(b);

const nearest = <Item>(list: Item[], far: (item: Item) => number): number =>
  list.reduce((best, item, i) => (far(item) < far(list[best]!) ? i : best), 0);
const outside = (value: number, from: number, until: number): number => Math.max(from - value, value - until, 0);
const periodAt = (strip: StripData, at_s: number): number => Math.max(0, strip.periods.findLastIndex((period) => period.from_s <= at_s));

// x and y in px of the drawing. A column of ten px is no target for a thumb: what is nearest is meant.
export function pickedAt(strip: StripData, frame: Frame, x: number, y: number): Picked | null {
  const at_s = Math.min(strip.end_s, Math.max(strip.start_s, frame.when(y)));
  if (x < frame.period_x + frame.period_width + kGap) return strip.periods.length > 0 ? { what: 'period', period: periodAt(strip, at_s) } : null;
  if (strip.volts && outside(x, frame.volts_x, frame.volts_x + frame.volts_width) === 0) return { what: 'volts', at_s };
  if (frame.columns.length === 0) return null;
  const { column, index } = frame.columns[nearest(frame.columns, (one) => outside(x, one.x, one.x + one.width))]!;
  return { what: 'stint', column: index, stint: nearest(column.stints, (one) => outside(at_s, one.in_s, one.out_s)) };
}

// What comes after it or before it: pack after pack, column after column; periods; half hours of volts.
export function stepped(strip: StripData, picked: Picked, by: 1 | -1): Picked | null {
  if (picked.what === 'volts') {
    const at_s = Math.round(picked.at_s / kVoltsStep_s + by) * kVoltsStep_s;
    return at_s < strip.start_s || at_s > strip.end_s ? null : { what: 'volts', at_s };
  }
  if (picked.what === 'period') {
    const period = picked.period + by;
    return period < 0 || period >= strip.periods.length ? null : { what: 'period', period };
  }
  const all = strip.columns.flatMap((column, k) => (shown(column) ? column.stints.map((_, i): Picked => ({ what: 'stint', column: k, stint: i })) : []));
  return all[all.findIndex((one) => same(one, picked)) + by] ?? null;
}

function between(values: [number, number][], at_s: number): number | null {
  const next = values.findIndex(([s]) => s >= at_s);
  if (next < 0) return null;
  const [s1, v1] = values[next]!;
  if (next === 0) return s1 - at_s < 60 ? v1 : null;
  const [s0, v0] = values[next - 1]!;
  return s1 === s0 ? v1 : v0 + ((v1 - v0) * (at_s - s0)) / (s1 - s0);
}

const overlap = (span: { from_s: number; until_s: number }, from_s: number, until_s: number) => span.from_s < until_s && span.until_s > from_s;

function ofStint(strip: StripData, column: StripColumn, i: number, units: Units): Told {
  const stint = column.stints[i]!;
  const next: Stint | undefined = column.stints[i + 1];
  const on = (at_s: number) => clock(at_s, units);
  const lines = [
    t.from_until(on(stint.in_s), on(stint.out_s), percent(stint.start_charge), percent(stint.end_charge)),
    t.left_of(wattHours(stint.left_wh), wattHours(stint.full_wh)),
  ];
  if (next) lines.push(t.then(on(stint.out_s), next.pack));
  else if (column.fails) {
    // As long as no odds were counted, all three are one.
    const counted = strip.safe_s < strip.stated_s || strip.likely_s < strip.stated_s;
    lines.push(counted ? t.doubt(on(Math.max(strip.safe_s, strip.start_s)), on(strip.likely_s)) : t.ends_first(on(strip.stated_s)));
  }
  else if (stint.out_s >= strip.end_s - 60) lines.push(t.to_the_end);
  const closed = column.closed.filter((span) => overlap(span, Math.max(stint.in_s, strip.start_s), stint.out_s));
  if (closed.length > 0) lines.push(t.no_hands(closed.map((span) => `${on(Math.max(span.from_s, strip.start_s))} – ${on(Math.min(span.until_s, strip.end_s))}`).join(', ')));
  return { title: t.why_pack(stint.pack, column.holder), lines };
}

// Nothing where the strip of a what-if no longer has it.
export function told(strip: StripData, curves: Float64Array, picked: Picked, units: Units): Told | null {
  if (picked.what === 'stint') {
    const column = strip.columns[picked.column];
    return column?.stints[picked.stint] ? ofStint(strip, column, picked.stint, units) : null;
  }
  if (picked.what === 'period') {
    const period = strip.periods[picked.period];
    if (!period) return null;
    const closed = strip.columns.filter((column) => shown(column) && column.closed.some((span) => overlap(span, period.from_s, period.until_s)));
    return {
      title: period.name,
      lines: [
        `${clock(period.from_s, units)} – ${clock(period.until_s, units)}, ${temperature(period.air_c, units)}`,
        ...(closed.length > 0 ? [t.out_of_reach(closed.map((column) => column.holder).join(', '))] : []),
      ],
    };
  }
  if (!strip.volts) return null;
  const { device, cutoff_v, pieces } = strip.volts;
  const v = pieces.map((piece) => between(pairs(curves, piece), picked.at_s)).find((found) => found !== null) ?? null;
  return { title: t.volts(device), lines: [v === null ? t.no_volts(clock(picked.at_s, units)) : t.volts_at(clock(picked.at_s, units), v.toFixed(1)), t.cuts_at(cutoff_v.toFixed(1))] };
}
