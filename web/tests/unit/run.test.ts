import type { Forecast } from '../../src/engine/answers/forecast';
import type { Run } from '../../src/engine/answers/run';
import { copy, pathAtLine, tables, written, type DayJson, type Table } from '../../src/state/day';
import { composed } from '../../src/state/journal';
import { kNight } from '../../src/state/night';
import { blamed, rowOf, runOf, type DayOfRow, type RunAsked } from '../../src/state/run';
import { ask, entries, example, forecast } from './door';
import { describe, expect, it } from 'vitest';

const day = example('saltmarsh-ferry');
const one = (id: string, more: Partial<DayOfRow> = {}): DayOfRow => ({ id, name: id, day, night: structuredClone(kNight), charged: true, ...more });
const answerOf = (asked: RunAsked, help = false): Run => {
  const { answer, error } = ask({ ask: 'run', help, ...asked });
  expect(error).toBeUndefined();
  return answer as unknown as Run;
};
const runFile = (asked: RunAsked) => (JSON.parse(asked.run) as { day: { file: string; rest?: Table }[] }).day;

describe('days in a row', () => {
  it('are the same day once more until somebody says otherwise', () => {
    const saved = { id: 'a', name: 'A', day: '{}', undo: [], redo: [], changed_at: '' };
    expect(rowOf(saved)).toEqual([{ day: 'a', charged: true }]);
    expect(rowOf({ ...saved, row: [{ day: 'b', charged: false }] })).toEqual([{ day: 'b', charged: false }]);
  });
  it('each day is brought once, each night is its own, none after the last', () => {
    const vehicle = { ...structuredClone(kNight), supply: 'vehicle' as const, watts: '120', asleep: true };
    const resting = { ...copy(day), rest: { there: '19:00-20:00', place: 'van' } } as DayJson;
    const asked = runOf([one('a', { night: vehicle }), one('a', { charged: false }), one('b', { day: resting }), one('b', { day: resting })], true);
    expect(asked.days.map(({ file }) => file)).toEqual(['a', 'b']);
    expect(asked.choose).toBe(true);
    const days = runFile(asked);
    expect(days.map(({ file }) => file)).toEqual(['a', 'a', 'b', 'b']);
    expect(days[0]!.rest).toEqual({ there: '20:30-23:30, 06:00-06:30', asleep: true, get_up: 1, watts: '120 W' });
    expect(days[1]!.rest).toEqual({ charging: false });
    expect(days[2]!.rest).toEqual({ there: '20:30-23:30, 06:00-06:30', place: 'van', asleep: false });
    expect(days[3]!.rest).toBeUndefined();
  });
  it('two days of one name are told apart, and one without a name has one', () => {
    const asked = runOf([one('a', { name: 'Same' }), one('b', { name: 'Same' }), one('c', { name: ' ' }), one('d', { name: 'the run' })], false);
    expect(asked.days.map(({ file }) => file)).toEqual(['Same', 'Same (2)', 'day', 'the run (2)']);
  });
  it('are answered by the engine, a pack beginning a day with what the night left it', () => {
    const run = answerOf(runOf([one('a'), one('a')], false));
    expect(run.days).toHaveLength(2);
    expect(run.days[1]!.rest).toBeNull();
    let compared = 0;
    for (const before of run.days[0]!.packs) {
      const after = run.days[1]!.packs.find((pack) => pack.label === before.label)!;
      if (!before.rechargeable) continue;
      expect(after.at_call).toBeCloseTo(before.after_rest - before.lost_lying, 9);
      ++compared;
    }
    expect(compared).toBeGreaterThan(0);
  }, 60_000);
  it('bring the journal where it is to count, and no line of it otherwise', () => {
    expect('lines' in runOf([one('a'), one('a')], false)).toBe(false);
    expect(runOf([one('a'), one('a')], false, 'x\n').lines).toBe('x\n');
  });
  it('begun by the journal, a pack has at the first call what was told of it', () => {
    const told = composed('01a213c1-15c5-70d4-af6f-000000000001', '2026-11-25T05:00:00+00:00', 'page', 'charged', { pack: 'C1', charge: 0.4 });
    const run = answerOf({ ...runOf([one('a'), one('a')], false, told), now: '2026-11-25T05:00:00+00:00' });
    expect(run.days[0]!.packs.find((pack) => pack.label === 'C1')!.at_call).toBeCloseTo(0.4, 9);
    expect(run.journal).toEqual([{ label: 'C1', charge: 0.4, capacity: null, resistance: null }]);
  }, 60_000);
  it('with nothing charged in between, no pack gains', () => {
    const run = answerOf(runOf([one('a', { charged: false }), one('a')], false));
    expect(run.days[0]!.rest).toBeNull();
    for (const pack of run.days[0]!.packs) expect(pack.after_rest).toBe(pack.at_off);
  }, 60_000);
  it('what is wrong with one of them is laid at that day', () => {
    const about = (asked: RunAsked) => blamed(asked, ask({ ask: 'run', help: false, ...asked }).error as never);
    const spoilt = copy(day);
    tables(spoilt, 'pack')[0]!.charge = 'plenty';
    expect(about(runOf([one('a'), one('b', { day: spoilt }), one('a')], false))).toBe(1);
    // The same label is another kind of pack on the second day.
    const other = copy(day);
    const pack = tables(other, 'pack')[0]!;
    pack.kind = entries('packs').find((entry) => entry.id !== pack.kind && entry.values.fits?.some((fits) => tables(other, 'holder').some((holder) => holder.kind === fits)))?.id ?? '';
    expect(about(runOf([one('a'), one('a'), one('b', { day: other })], false))).toBe(2);
    expect(about(runOf([one('a', { day: example('news-bag') }), one('b')], false))).toBe(0); // nothing to charge with
    const asked = runOf([one('a'), one('b')], false);
    expect(about({ ...asked, days: asked.days.slice(0, 1) })).toBe(1);
  });
});

describe('parameters written into a day', () => {
  const cellOf = (pack: Table): Table => {
    const kind = (ask({ ask: 'catalogue', what: String(pack.kind) }).answer as { entry: { values: { cell: string } } }).entry.values.cell;
    const { id, title, values } = (ask({ ask: 'catalogue', what: kind }).answer as unknown as { entry: { id: string; title: string; values: Table } }).entry;
    return { id, title, ...values };
  };
  const stated_s = (of: DayJson): number => (forecast(of).answer!.forecast as Forecast).stated_s;
  it('are those of the catalogue where they say the same, and count where they do not', () => {
    const own = copy(day);
    for (const pack of tables(own, 'pack')) pack.params = { format: 'tillwrap-params-1', cell: [cellOf(pack)] };
    expect(stated_s(own)).toBeCloseTo(stated_s(day), 3);
    for (const pack of tables(own, 'pack')) {
      const cell = tables(pack.params as Table, 'cell')[0]!;
      cell.capacity_ah = 0.5 * Number(cell.capacity_ah);
    }
    expect(stated_s(own)).toBeLessThan(stated_s(day) - 60);
  });
  it('of a wrong kind are refused where they stand', () => {
    const own = copy(day);
    tables(own, 'pack')[0]!.params = { format: 'tillwrap-params-9', cell: [] };
    const { error } = ask({ ask: 'as_json', day: written(own) });
    expect(pathAtLine(own, error!.line)?.slice(0, 3)).toEqual(['pack', 0, 'params']);
  });
});
