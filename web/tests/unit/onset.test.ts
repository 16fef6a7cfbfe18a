import { describe, expect, it } from 'vitest';
import type { Fact } from '../../src/state/db';
import { valueAt, type DayJson } from '../../src/state/day';
import { asItStands, canRoll, slid, standing, type ChangeAhead } from '../../src/state/onset';

const day = (): DayJson => ({
  format: 1,
  day: { call: '08:00', wrap: '18:00', off: '18:30' },
  pack: [{ labels: ['P1', 'P2', 'P3'], kind: 'smart-pack-14v4-98wh' }],
  holder: [{ name: 'cup', packs: ['P1', { pack: 'P2', at: '12:30' }, 'P3'] }],
  period: [
    { name: 'one', from: '08:00', no_hands: { bag: '09:00-11:00' } },
    { name: 'meal', from: '12:30' },
    { name: 'two', from: '13:15' },
  ],
});
let n = 0;
const fact = (kind: Fact['kind'], time: string, data: Fact['data']): Fact => ({
  id: `f${++n}`,
  day_id: 'd',
  at: `2026-11-25T${time}:00+00:00`,
  entered_at: `2026-11-25T${time}:30+00:00`,
  kind,
  data,
});

describe('a day that slides', () => {
  it('moves what is still to come, and the open end of a stretch', () => {
    const later = slid(day(), 10 * 3600, 30);
    expect(valueAt(later, ['period', 0, 'from'])).toBe('08:00');
    expect(valueAt(later, ['period', 1, 'from'])).toBe('13:00');
    expect(valueAt(later, ['day', 'wrap'])).toBe('18:30');
    expect(valueAt(later, ['holder', 0, 'packs', 1, 'at'])).toBe('13:00');
    expect(valueAt(later, ['period', 0, 'no_hands', 'bag'])).toBe('09:00-11:30');
  });
});

describe('facts', () => {
  it('put a pack in when it went in', () => {
    const stands = asItStands(day(), [fact('changed', '11:40', { holder: 'cup', pack: 'P2' })]);
    expect(valueAt(stands, ['holder', 0, 'packs'])).toEqual(['P1', { pack: 'P2', at: '11:40' }, 'P3']);
  });
  it('keep the turns a pack has had', () => {
    const of = day();
    (of.holder as { packs: unknown }[])[0]!.packs = ['P1', { pack: 'P2', at: '10:00' }, { pack: 'P1', at: '13:00' }, 'P3'];
    const stands = asItStands(of, [fact('changed', '14:00', { holder: 'cup', pack: 'P2' })]);
    expect(valueAt(stands, ['holder', 0, 'packs'])).toEqual([
      'P1',
      { pack: 'P2', at: '10:00' },
      { pack: 'P1', at: '13:00' },
      { pack: 'P2', at: '14:00' },
      'P3',
    ]);
  });
  it('taken back leave the day as it was, in any order', () => {
    const late = fact('late', '10:00', { minutes: 30 });
    const back = fact('taken_back', '10:05', { of: late.id });
    expect(standing([back, late])).toEqual([]);
    expect(asItStands(day(), [back, late])).toEqual(day());
  });
});

describe('rolling', () => {
  const change: ChangeAhead = { holder: 'cup', place: 'bag', out: 'P1', in: 'P2', in_waits: 'pocket', planned_s: 45000, safe_s: 46800, likely_s: 48000, last_safe_s: 46800 };
  it('counts to the first pack that may end, or the safe end of the day', () => {
    expect(canRoll(43200, 45, [change], 70000)).toMatchObject({ yes: true, spare_s: 900 });
    expect(canRoll(45000, 45, [change], 70000).yes).toBe(false);
    expect(canRoll(43200, 45, [], 44000).yes).toBe(false);
  });
});
