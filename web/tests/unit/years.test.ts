import { describe, expect, it } from 'vitest';
import { fresh, keptOf, laterVersions, linesOf } from '../../src/state/journal';
import type { Course } from '../../src/engine/answers/kit';
import type { HealthReply } from '../../src/engine/types';
import { drawn, tested, typedKeys } from '../../src/state/years';

const band = (middle: number, half: number) => ({ low: middle - half, middle, high: middle + half });

describe('a log’s finding', () => {
  const answer = { text: '', advice: '', log: { name: 'c2.csv', plausible: true, why_not: null, capacity: band(0.8, 0.0822), capacity_told: true, resistance: band(1.8, 0.4935), resistance_told: true } } as HealthReply;
  // A band of nine in ten is 1.645 standard deviations to each side (normal distribution).
  it('becomes a tested line with standard deviations', () => {
    expect(tested('C2', answer)).toEqual({ pack: 'C2', capacity: 0.8, resistance: 1.8, capacity_sd: 0.05, resistance_sd: 0.3, log: 'c2.csv' });
  });
  it('that tells no capacity, or is of another pack, becomes none', () => {
    expect(tested('C2', { ...answer, log: { ...answer.log!, capacity_told: false } })).toBeNull();
    expect(tested('C2', { ...answer, log: { ...answer.log!, plausible: false } })).toBeNull();
    expect(tested('C2', { ...answer, log: null })).toBeNull();
  });
});

it('what was typed: trimmed, empty keys and those of other facts left out', () => {
  expect(typedKeys('charged', { pack: ' C2 ', charge: '80 %', charger: ' ', place: 'case' })).toEqual({ pack: 'C2', charge: '80 %' });
});

it('lines of a file: blank ones and carriage returns left out; those already here are not new', () => {
  const one = '{"v":1,"id":"i","at":"2026-11-25T10:00:00Z","by":"p","what":"late","minutes":10}';
  expect(linesOf(`${one}\r\n\n  \n${one}`)).toEqual([one, one]);
  expect(fresh([one, one], [])).toEqual([one]);
  expect(fresh([one], [keptOf(one, '')!])).toEqual([]);
});

describe('a course drawn', () => {
  const course: Course = {
    results: [{ at: '2025-01-01', ...band(0.9, 0.05) }],
    trend: [
      { at: '2024-01-01', ...band(1, 0.05) },
      { at: '2025-01-01', ...band(0.9, 0.04) },
      { at: '2026-01-01', ...band(0.8, 0.1) },
    ],
  };
  const of = drawn(course, '2025-07-02', 0.8, 340, 150);
  it('has time to the right, more upward, the limit between levels', () => {
    const xs = of.line.split(' ').map((point) => Number(point.split(',')[0]));
    const ys = of.line.split(' ').map((point) => Number(point.split(',')[1]));
    expect(xs).toEqual([...xs].sort((a, b) => a - b));
    expect(ys).toEqual([...ys].sort((a, b) => a - b));
    expect(of.limit_y).toBeCloseTo(ys[2]!, 0);
    expect(of.results[0]!.low).toBeGreaterThan(of.results[0]!.high);
    // 2025-07-02 lies half-way through the second year.
    expect(of.now_x).toBeCloseTo((xs[1]! + xs[2]!) / 2, 0);
    expect(of.years.map((year) => year.words)).toEqual(['2025', '2026']);
  });
  it('closes its band', () => {
    expect(of.band.split(' ')).toHaveLength(6);
  });
});

it('lines of later versions are told by their versions, each once', () => {
  const of = (v: number) => JSON.stringify({ v, id: 'x', at: '2030-01-01T10:00:00Z', by: 'phone', what: 'charged' });
  expect(laterVersions([of(3), of(1), of(2), of(3)])).toEqual([2, 3]);
});

it('a line of a later version is kept, whatever it tells with', () => {
  const later = JSON.stringify({ v: 2, id: 'x', at: '2030-01-01T10:00:00Z', by: { device: 'phone' }, what: ['charged'] });
  expect(keptOf(later, '')).toEqual({ text: later, id: 'x', at: '2030-01-01T10:00:00Z', day_id: '' });
  expect(keptOf('{"v":2}', '')).toBeNull();
});
