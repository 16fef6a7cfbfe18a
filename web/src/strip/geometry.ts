// Where things stand on the strip. Pure: from the engine's numbers and a width to points.
import type { StripColumn, StripData, Where } from '../engine/types';

export interface Placed {
  column: StripColumn;
  index: number; // in strip.columns
  x: number;
  width: number;
  wide: boolean;
  upright: boolean; // its name, which does not fit over it
  scale: number; // wedges are multiplied by this: a small column is drawn against its own largest pack
}

export interface Frame {
  width: number;
  height: number;
  top: number;
  hours_x: number;
  period_x: number;
  period_width: number;
  columns: Placed[];
  volts_x: number;
  volts_width: number;
  y: (at_s: number) => number;
  when: (y: number) => number; // the other way, seconds
}

const kHours = 26;
const kGap = 5;
const kLeastNarrow = 10;
export const kLetter = 6.2; // px, a letter of 11 px on the average

// What is drawn: packs in holders.
export const shown = (column: StripColumn): boolean => column.kind === 'holder' && column.stints.length > 0;
const largest = (column: StripColumn): number => Math.max(0, ...column.stints.map((stint) => stint.full_wh));

export function frame(strip: StripData, width: number, per_hour: number): Frame {
  const held = strip.columns.filter(shown);
  const most = Math.max(1e-9, ...held.map(largest));
  const wide = held.filter((column) => largest(column) > 0.4 * most);
  const narrow = held.filter((column) => !wide.includes(column));
  const roomy = width > 640;
  const period_width = roomy ? 150 : Math.max(64, Math.min(96, width * 0.22));
  const volts_width = strip.volts ? (roomy ? 110 : Math.max(34, width * 0.11)) : 0;
  const rest = width - kHours - period_width - volts_width - kGap * (held.length + 3);
  // A wide column counts as five narrow ones.
  const unit = rest / Math.max(1, 5 * wide.length + narrow.length);
  const narrow_width = Math.max(kLeastNarrow, Math.min(unit, 34));
  const wide_width = Math.max(24, Math.min(150, (rest - narrow_width * narrow.length) / Math.max(1, wide.length)));
  const lies = wide.every((column) => kLetter * column.holder.length <= wide_width + kGap);
  // Names that stand upright: room for the longest, within reason.
  const upright = [...(lies ? narrow : held).map((column) => column.holder), ...(strip.volts && !roomy ? [strip.volts.device] : [])];
  const top = Math.min(150, Math.max(86, 16 + kLetter * Math.max(0, ...upright.map((name) => name.length))));
  const columns: Placed[] = [];
  let x = kHours + period_width + 2 * kGap;
  let volts_x = 0;
  const place = (column: StripColumn, is_wide: boolean) => {
    const column_width = is_wide ? wide_width : narrow_width;
    columns.push({ column, index: strip.columns.indexOf(column), x, width: column_width, wide: is_wide, upright: !is_wide || !lies, scale: is_wide ? 1 : most / Math.max(1e-9, largest(column)) });
    x += column_width + kGap;
  };
  for (const column of wide) place(column, true);
  volts_x = x;
  if (strip.volts) x += volts_width + kGap;
  for (const column of narrow) place(column, false);
  const y = (at_s: number) => top + ((at_s - strip.start_s) / 3600) * per_hour;
  return { width, height: y(strip.end_s) + 26, top, hours_x: kHours - 4, period_x: kHours, period_width, columns, volts_x, volts_width, y, when: (at) => strip.start_s + ((at - top) * 3600) / per_hour };
}

export function pairs(curves: Float64Array, where: Where): [number, number][] {
  const out: [number, number][] = [];
  for (let i = 0; i < where.pairs; ++i) out.push([curves[where.from + 2 * i]!, curves[where.from + 2 * i + 1]!]);
  return out;
}

const point = (x: number, y: number): string => `${x.toFixed(1)},${y.toFixed(1)}`;

// A wedge, half on each side of the column's middle.
export function wedge(of: Placed, values: [number, number][], y: (at_s: number) => number): string {
  const middle = of.x + of.width / 2;
  const left: string[] = [];
  const right: string[] = [];
  for (const [at_s, share] of values) {
    const half = (of.width / 2) * Math.min(1, share * of.scale);
    left.push(point(middle - half, y(at_s)));
    right.push(point(middle + half, y(at_s)));
  }
  return [...left, ...right.reverse()].join(' ');
}

export function polyline(values: [number, number][], x: (v: number) => number, y: (at_s: number) => number): string {
  return values.map(([at_s, v]) => point(x(v), y(at_s))).join(' ');
}
