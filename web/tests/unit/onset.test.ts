import { describe, expect, it } from 'vitest';
import type { StripData, TrackedReading } from '../../src/engine/types';
import type { DayJson } from '../../src/state/day';
import type { Find } from '../../src/state/entry';
import { en } from '../../src/text/en';
import { composed, keptOf, standing, type KeptLine, type Keys } from '../../src/state/journal';
import { ahead, candidates, datesRead, dueFirst, inTime, lastSeconds, meant, midnight, ofTheDay, readable, secondsIntoDay, typedValue, unnumbered } from '../../src/state/onset';

const day = (date?: string): DayJson => ({
  format: 1,
  day: { call: '08:00', wrap: '18:00', off: '18:30', ...(date ? { date } : {}) },
  pack: [{ labels: ['P1', 'P2', 'P3'], kind: 'smart-pack-14v4-98wh' }, { label: 'A', kind: 'aa-lithium-x2' }],
  device: [{ name: 'link' }, { name: 'recorder' }],
  holder: [{ name: 'cup', packs: ['P1', { pack: 'P2', at: '12:30' }] }, { name: 'door', packs: ['A'] }],
  period: [{ name: 'one', from: '07:30' }, { name: 'meal', from: '12:30' }],
});
let n = 0;
const line = (at: string, what: string, keys: Keys, day_id = 'd'): KeptLine => {
  n += 1;
  const id = `01a213c1-15c5-70d4-af6f-${String(n).padStart(12, '0')}`;
  return keptOf(composed(id, at, 'page', what, keys), day_id)!;
};
const local = (clock: string, date = '2026-11-25') => new Date(`${date}T${clock}:00`);
const iso = (clock: string, date?: string) => local(clock, date).toISOString();

describe('what stands', () => {
  it('is in the order it was so, whatever the order of lines and the zones', () => {
    const later = line('2026-11-25T10:00:00+02:00', 'late', { minutes: 10 }); // 08:00 UTC
    const last = line('2026-11-25T08:30:00+00:00', 'late', { minutes: 20 });
    expect(standing([last, later]).map(({ line }) => line)).toEqual([later, last]);
  });
  it('is not what was taken back, and is again when the taking back was', () => {
    const late = line(iso('10:00'), 'late', { minutes: 10 });
    const back = line(iso('10:01'), 'taken_back', { of: late.id });
    const again = line(iso('10:02'), 'taken_back', { of: back.id });
    expect(standing([back, late])).toEqual([]);
    expect(standing([again, back, late]).map(({ line }) => line)).toEqual([late]);
  });
});

describe('a day without a date', () => {
  it('goes on past midnight', () => {
    expect(secondsIntoDay(day(), local('01:00', '2026-11-26'))).toBe(25 * 3600);
    expect(secondsIntoDay(day(), local('07:00', '2026-11-26'))).toBe(7 * 3600);
    expect(lastSeconds({ ...day(), day: { wrap: '01:30' } } as DayJson)).toBe(25.5 * 3600);
  });
  it('is today, not yesterday: what was noted then is not of it', () => {
    const lines = [line(iso('10:00', '2026-11-24'), 'late', { minutes: 10 }), line(iso('10:00'), 'late', { minutes: 20 })];
    expect(ofTheDay(lines, day(), 'd', local('11:00')).map(({ event }) => event.minutes)).toEqual([20]);
  });
});

it('a day with a date counts from that midnight', () => {
  expect(midnight(day('2026-11-25'), local('09:00', '2026-11-26'))).toEqual(local('00:00'));
  expect(secondsIntoDay(day('2026-11-25'), local('09:00', '2026-11-26'))).toBe(33 * 3600);
});

it('lines from another device count when the day has what they name; another day’s never', () => {
  const lines = [
    line(iso('10:00'), 'put_in', { pack: 'P2', holder: 'cup' }, ''),
    line(iso('10:05'), 'put_in', { pack: 'Z9', holder: 'cup' }, ''),
    line(iso('10:10'), 'put_in', { pack: 'P2', holder: 'cup' }, 'other'),
    line(iso('10:15'), 'charged', { pack: 'P2', charge: 1 }),
    line(iso('10:20'), 'taken_out', { pack: 'P1', holder: 'cup', charge: 0.4 }, ''),
    line(iso('10:25'), 'taken_out', { pack: 'P1', holder: 'plate of another kit' }, ''),
  ];
  expect(ofTheDay(lines, day(), 'd', local('11:00')).map(({ event }) => [event.what, event.pack])).toEqual([['put_in', 'P2'], ['taken_out', 'P1']]);
});

it('dates on which a day’s things were read: its own, or of one without a date all, the latest first', () => {
  const read = (at: string, of: string, day_id = '') => line(at, 'reading', { point: 'amps', of, value: 1 }, day_id);
  const back = read(iso('09:00', '2026-11-23'), 'cup');
  const lines = [
    read(iso('10:00'), 'cup'),
    read(iso('10:00', '2026-11-24'), 'cup', 'd'),
    read(iso('11:00', '2026-11-24'), 'recorder', 'other'),
    read(iso('10:00', '2026-11-22'), 'plate of another kit'),
    back,
    line(iso('09:01', '2026-11-23'), 'taken_back', { of: back.id }, ''),
    line(iso('12:00', '2026-11-21'), 'put_in', { pack: 'P1', holder: 'cup' }, ''),
  ];
  expect(datesRead(lines, day(), 'd')).toEqual(['2026-11-25', '2026-11-24']);
  expect(datesRead(lines, day('2026-11-24'), 'd')).toEqual(['2026-11-24']);
  expect(datesRead(lines, day('2026-11-20'), 'd')).toEqual([]);
});

describe('a reading', () => {
  const strip = {
    volts: { device: 'recorder' },
    columns: [
      { kind: 'holder', holder: 'cup', stints: [{ pack: 'P1', in_s: 0, out_s: 40000 }, { pack: 'P2', in_s: 40000, out_s: 60000 }] },
      { kind: 'bay', holder: 'charger', stints: [{ pack: 'P3', in_s: 0, out_s: 60000 }] },
    ],
  } as unknown as StripData;
  it('offers what is likely first', () => {
    const none: Find = () => undefined;
    expect(readable('input volts', day(), strip, 50000, none)).toEqual(['recorder', 'link']);
    expect(readable('gauge', day(), strip, 50000, none)).toEqual(['P2', 'P1']);
    expect(readable('amps', day(), strip, 50000, none)).toEqual(['cup']);
  });
  it('is a gauge only of a pack that has one, where that is known', () => {
    const cells = { columns: [{ kind: 'holder', holder: 'door', stints: [{ pack: 'A', in_s: 0, out_s: 60000 }] }, { kind: 'holder', holder: 'cup', stints: [{ pack: 'P1', in_s: 0, out_s: 60000 }] }] } as unknown as StripData;
    const find: Find = (_, id) => ({ id, title: id, values: { has_gauge: id.startsWith('smart') } });
    expect(readable('gauge', day(), cells, 50000, find)).toEqual(['P1']);
    expect(readable('gauge', day(), cells, 50000, () => undefined)).toEqual(['A', 'P1']);
  });
  it('takes a comma and per cent; says no to what cannot be', () => {
    expect(typedValue('input volts', '14,5')).toBe(14.5);
    expect(typedValue('gauge', '64')).toBeCloseTo(0.64);
    expect(typedValue('meter', '70')).toBeCloseTo(0.7);
    expect(typedValue('meter', '70 %')).toBeCloseTo(0.7);
    expect(typedValue('input volts', '14,5 V')).toBe(14.5);
    expect(typedValue('amps', '1.2A')).toBe(1.2);
    expect(typedValue('amps', '1.2 V')).toBeNull();
    expect(typedValue('gauge', '%')).toBeNull();
    expect(typedValue('gauge', '145')).toBeNull();
    expect(typedValue('amps', '')).toBeNull();
    expect(typedValue('input volts', 'x')).toBeNull();
  });
  it('that was doubted is put right as the engine says', () => {
    const one = { point: 'input volts', of: 'recorder', value: 1.45, slipped: 14.5, fits: null } as TrackedReading;
    expect(meant(one)).toEqual({ point: 'input volts', of: 'recorder', value: 14.5 });
    expect(meant({ ...one, value: 7, slipped: null, fits: 'link' })).toEqual({ point: 'input volts', of: 'link', value: 7 });
    expect(meant({ ...one, slipped: null })).toBeNull();
  });
});

it('packs of the kinds listed for a holder may go in', () => {
  expect(candidates(day(), 'cup')).toEqual(['P1', 'P2', 'P3']);
});

it('a change for after off, of a pack that is safe to off, is not ahead; one that is not safe is', () => {
  const change = { holder: 'cup', place: 'bag', out: 'P1', in: 'P2', in_waits: 'pocket', planned_s: 74520, safe_s: 74160, likely_s: 75000, last_safe_s: 74160 };
  expect(ahead([change], 53100, 70200)).toEqual([]);
  const late = { ...change, safe_s: 69000 };
  expect(ahead([late], 53100, 70200)).toEqual([late]);
});

it('what is due stands in front, each once', () => {
  expect(dueFirst(['cup', 'door A', 'door B'], ['door B', 'cup', 'door B', 'gone'])).toEqual(['door B', 'cup', 'door A']);
});

it('changes ahead: the most pressing first, those done left out', () => {
  const change = { holder: 'cup', place: 'bag', out: 'P1', in: 'P2', in_waits: 'pocket', planned_s: 45000, safe_s: 46800, likely_s: 48000, last_safe_s: 46800 };
  const sooner = { ...change, in: 'P3', last_safe_s: 45500 };
  expect(ahead([change, { ...change, planned_s: 30000 }, sooner], 44000, 60000)).toEqual([sooner, change]);
  const closed = { ...change, in: 'P1', safe_s: 45100, last_safe_s: null };
  expect(ahead([change, sooner, closed], 44000, 60000)).toEqual([closed, sooner, change]);
  expect([change, { ...change, last_safe_s: 44950 }, { ...change, last_safe_s: 44000 }, closed].map(inTime)).toEqual([true, true, false, false]);
});

describe('what was noted, in words', () => {
  it('has the unit of what was read', () => {
    const noted = (point: string, value: number) => en.set.noted({ what: 'reading', point, of: 'recorder', value });
    expect(noted('meter', 0.64)).toBe('recorder meter: 64 %');
    expect(noted('gauge', 0.06)).toBe('recorder gauge: 6 %');
    expect(noted('input volts', 14.9)).toBe('recorder input volts: 14.9 V');
    expect(noted('amps', 1.2)).toBe('recorder amps: 1.2 A');
  });
  it('counts no lines', () => {
    expect(unnumbered('line 12: the meter of recorder is kept')).toBe('The meter of recorder is kept');
    expect(unnumbered('the kit has changed')).toBe('the kit has changed');
  });
});
