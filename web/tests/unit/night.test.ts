import { describe, expect, it } from 'vitest';
import type { DayJson } from '../../src/state/day';
import { composed, keptOf, standing } from '../../src/state/journal';
import { byCharger, kNight, moments, nightOf, question, ticked, type Night, type Stay } from '../../src/state/night';

const night = (over: Partial<Night>): Night => ({ ...structuredClone(kNight), ...over });

describe('the night asked about', () => {
  it('is what the day file says of its rest', () => {
    const day = { format: 1, rest: { from: '20:45', there: '21:00-23:30, 06:00–06:20', asleep: true, get_up: 2, watts: '300 W' } } as DayJson;
    expect(nightOf(day)).toEqual({
      from: '20:45', until: '', there: [{ from: '21:00', until: '23:30' }, { from: '06:00', until: '06:20' }], asleep: true, get_up: 2, supply: 'generator', watts: '300', left: {},
    });
    expect(nightOf({ format: 1 })).toEqual(kNight);
  });
  it('becomes the question’s fields, in its units', () => {
    const { fields, wrong } = question(night({ from: '20:00', asleep: true, get_up: 1, supply: 'vehicle', watts: '120', left: { C1: '35', C2: '' } }));
    expect(wrong).toEqual({});
    expect(fields).toEqual({ from_s: 72000, asleep: true, get_up: 1, there: '20:30-23:30, 06:00-06:30', watts: 120, left: [{ pack: 'C1', charge: 0.35 }] });
    expect(question(night({})).fields).toEqual({ asleep: false, there: '20:30-23:30, 06:00-06:30', left: [] });
  });
  it('names each field that cannot be', () => {
    expect(question(night({ from: '25:00', there: [], supply: 'generator', watts: '0', left: { C1: '120' } })).wrong).toEqual({ from: true, there: true, watts: true, left: true });
    expect(question(night({ there: [{ from: '20:00', until: '20:00' }] })).wrong).toEqual({ there: true });
  });
});

it('hands: what happens at one moment is one entry, in order', () => {
  const stay = (pack: string, in_s: number, out_s: number): Stay => ({ label: pack, pack, charger: 'c', bay: 1, bays: 1, in_s, out_s, end_charge: 1 }) as Stay;
  const found = moments({ stays: [stay('B', 80010, 90000), stay('A', 70000, 80000)], get_up_s: [80005] });
  expect(found.map((moment) => [moment.at_s, moment.gets_up, moment.out.map((s) => s.pack), moment.into.map((s) => s.pack)])).toEqual([
    [70000, false, [], ['A']],
    [80010, true, ['A'], ['B']],
    [90000, false, ['B'], []],
  ]);
});

it('a pack is ticked by a line of this night and day only, until that is taken back', () => {
  const line = (n: number, at: string, what: string, keys: Record<string, string | number>, day_id = 'd') =>
    keptOf(composed(`01a213c1-15c5-70d4-af6f-00000000000${n}`, at, 'page', what, keys), day_id)!;
  const since = Date.parse('2026-11-25T18:00:00Z');
  const old = line(1, '2026-11-24T23:00:00Z', 'charged', { pack: 'C1', charge: 1 });
  const other = line(2, '2026-11-25T23:00:00Z', 'charged', { pack: 'C1', charge: 1 }, 'e');
  const now = line(3, '2026-11-25T23:00:00Z', 'charged', { pack: 'C1', charge: 1 });
  const back = line(4, '2026-11-25T23:01:00Z', 'taken_back', { of: now.id });
  expect(ticked('C1', standing([old, other]), 'd', since)).toBeUndefined();
  expect(ticked('C1', standing([old, now]), 'd', since)?.event.id).toBe(now.id);
  expect(ticked('C1', standing([now, back]), 'd', since)).toBeUndefined();
});

it('each bay stands under its own charger, in the order of bays and hours', () => {
  const stay = (label: string, charger: string, bay: number, in_s: number, bays = 1): Stay => ({ label, pack: label, charger, bay, bays, in_s, out_s: in_s + 3600, end_charge: 1 }) as Stay;
  const stays = [stay('C3', 'desk', 2, 70000), stay('C2', 'van', 1, 70000), stay('C4', 'desk', 1, 80000), stay('C1', 'desk', 1, 70000), stay('L1', 'van', 2, 70000, 2)];
  const chargers = [{ name: 'desk', bays: 2 }, { name: 'van', bays: 4 }, { name: 'spare', bays: 1 }] as Parameters<typeof byCharger>[0]['chargers'];
  expect(byCharger({ stays, chargers }).map(({ name, of, used }) => [name, of, used.map((one) => [one.bay, one.bays, one.stays.map((s) => s.label)])])).toEqual([
    ['desk', 2, [[1, 1, ['C1', 'C4']], [2, 1, ['C3']]]],
    ['van', 4, [[1, 1, ['C2']], [2, 2, ['L1']]]],
    ['spare', 1, []],
  ]);
});
