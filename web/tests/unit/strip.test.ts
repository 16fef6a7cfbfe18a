// What a finger on the strip points at. Places are by the frame the strip is drawn in; times and shares by hand.
import { describe, expect, it } from 'vitest';
import type { StripData } from '../../src/engine/types';
import { kUnits } from '../../src/lib/format';
import { frame } from '../../src/strip/geometry';
import { pickedAt, stepped, told } from '../../src/strip/picked';

const hour = 3600;
const stint = (pack: string, in_h: number, out_h: number, full_wh = 98) => ({
  pack, index: 0, in_s: in_h * hour, out_s: out_h * hour, start_charge: 1, end_charge: 0.35, full_wh, left_wh: 0.35 * full_wh, comes_back: true, wedge: { from: 0, pairs: 0 },
});
// 07:00 to 19:00; one wide column, three narrow ones; volts fall from 16 V at 07:00 to 12 V at 11:00, then nothing.
const curves = new Float64Array([7 * hour, 16, 11 * hour, 12]);
const strip: StripData = {
  start_s: 7 * hour, end_s: 19 * hour, call_s: 7 * hour, wrap_s: 18 * hour, off_s: 18.5 * hour, overrun_s: 0, safe_s: 17 * hour, likely_s: 18 * hour, stated_s: 18 * hour,
  periods: [
    { name: 'pier', from_s: 7 * hour, until_s: 10 * hour, air_c: -6 },
    { name: 'hall', from_s: 10 * hour, until_s: 19 * hour, air_c: 20 },
  ],
  columns: [
    { holder: 'cup', index: 0, place: 'bag', kind: 'holder', fails: false, closed: [{ from_s: 8 * hour, until_s: 9 * hour }], stints: [stint('C1', 7, 11), stint('C2', 11, 19)] },
    { holder: 'bay', index: 1, place: 'van', kind: 'bay', fails: false, closed: [], stints: [stint('C3', 7, 19)] },
    ...['A', 'B', 'C'].map((name, i) => ({ holder: `door ${name}`, index: 2 + i, place: 'cast', kind: 'holder' as const, fails: name === 'B', closed: [], stints: [stint(`${name}-1`, 7, 19, 9)] })),
  ],
  volts: { device: 'recorder', cutoff_v: 10, lowest_v: 12, highest_v: 16, pieces: [{ from: 0, pairs: 2 }] },
};
const at = frame(strip, 366, 44);
const [cup, doorA, doorB] = at.columns as [typeof at.columns[0], typeof at.columns[0], typeof at.columns[0]];

describe('a finger on the strip', () => {
  it('is back where it was drawn', () => {
    for (const s of [7 * hour, 12.25 * hour, 19 * hour]) expect(at.when(at.y(s))).toBeCloseTo(s, 6);
  });
  it('means the pack of that time', () => {
    expect(pickedAt(strip, at, cup.x + 5, at.y(9 * hour))).toEqual({ what: 'stint', column: 0, stint: 0 });
    expect(pickedAt(strip, at, cup.x + 5, at.y(12 * hour))).toEqual({ what: 'stint', column: 0, stint: 1 });
  });
  it('means the nearest of columns too narrow for it, and their names above', () => {
    const between = doorA.x + doorA.width + 1;
    expect(pickedAt(strip, at, between, at.y(9 * hour))).toEqual({ what: 'stint', column: 2, stint: 0 });
    expect(pickedAt(strip, at, doorB.x, 3)).toEqual({ what: 'stint', column: 3, stint: 0 });
    expect(pickedAt(strip, at, at.width + 20, at.y(9 * hour))).toEqual({ what: 'stint', column: 4, stint: 0 });
  });
  it('means the period at the side and the volts beside', () => {
    expect(pickedAt(strip, at, 4, at.y(9.9 * hour))).toEqual({ what: 'period', period: 0 });
    expect(pickedAt(strip, at, at.period_x + 4, at.y(10.1 * hour))).toEqual({ what: 'period', period: 1 });
    const volts = pickedAt(strip, at, at.volts_x + 4, at.y(9 * hour));
    expect(volts?.what === 'volts' && volts.at_s).toBeCloseTo(9 * hour, 6);
  });
  it('goes on from pack to pack over the columns that are drawn, and stops at the ends', () => {
    const first = { what: 'stint', column: 0, stint: 0 } as const;
    expect(stepped(strip, first, -1)).toBeNull();
    expect(stepped(strip, first, 1)).toEqual({ what: 'stint', column: 0, stint: 1 });
    expect(stepped(strip, { what: 'stint', column: 0, stint: 1 }, 1)).toEqual({ what: 'stint', column: 2, stint: 0 });
    expect(stepped(strip, { what: 'stint', column: 4, stint: 0 }, 1)).toBeNull();
    expect(stepped(strip, { what: 'period', period: 1 }, 1)).toBeNull();
    expect(stepped(strip, { what: 'volts', at_s: 9.1 * hour }, 1)).toEqual({ what: 'volts', at_s: 9.5 * hour });
  });
});

describe('what is told', () => {
  it('of a pack: when, how much, what follows, when nobody reaches it', () => {
    const found = told(strip, curves, { what: 'stint', column: 0, stint: 0 }, kUnits)!;
    expect(found.title).toBe('C1 in cup');
    expect(found.lines).toEqual(['in 07:00 – 11:00, from 100 % to 35 %', '34 Wh of 98 Wh are left in it', 'changed at 11:00: C2 goes in', 'hatched, nobody can reach it: 08:00 – 09:00']);
  });
  it('of the pack that ends the day: between when', () => {
    expect(told(strip, curves, { what: 'stint', column: 3, stint: 0 }, kUnits)!.lines).toContain('ends the day first: safe to 17:00, likely to 18:00');
    const uncounted = { ...strip, safe_s: 18 * hour };
    expect(told(uncounted, curves, { what: 'stint', column: 3, stint: 0 }, kUnits)!.lines).toContain('ends the day first: at 18:00 as stated');
  });
  it('of a period: its air and what is out of reach', () => {
    expect(told(strip, curves, { what: 'period', period: 0 }, kUnits)).toEqual({ title: 'pier', lines: ['07:00 – 10:00, −6 °C', 'out of reach for some of it: cup'] });
    expect(told(strip, curves, { what: 'period', period: 1 }, kUnits)!.lines).toHaveLength(1);
  });
  it('of volts: along the straight line between its points, and nothing where there is no power', () => {
    expect(told(strip, curves, { what: 'volts', at_s: 8 * hour }, kUnits)!.lines).toEqual(['15.0 V at 08:00', 'stops below 10.0 V, the broken line']);
    expect(told(strip, curves, { what: 'volts', at_s: 12 * hour }, kUnits)!.lines[0]).toBe('no power at 12:00');
  });
  it('nothing of what a what-if took away', () => {
    expect(told(strip, curves, { what: 'stint', column: 0, stint: 5 }, kUnits)).toBeNull();
    expect(told(strip, curves, { what: 'period', period: 2 }, kUnits)).toBeNull();
  });
});

describe('names over the columns', () => {
  it('lie where all of the wide ones fit, else stand, with room for the longest', () => {
    expect(at.columns.map((placed) => placed.upright)).toEqual([false, true, true, true]);
    const named = (holder: string) => ({ ...strip, columns: strip.columns.map((column) => (column.holder === 'cup' ? { ...column, holder } : column)) });
    const long = frame(named('plate on the left of the recorder'), 366, 44);
    expect(long.columns.map((placed) => placed.upright)).toEqual([true, true, true, true]);
    expect(long.top).toBeGreaterThan(at.top);
  });
});
