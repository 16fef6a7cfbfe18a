import { describe, expect, it } from 'vitest';
import { clockSeconds, clockText, degrees, isDayFile, pathAtLine, renamed, tables, valueAt, written, type Path, type Table } from '../../src/state/day';
import { apply, kAsWritten } from '../../src/state/whatif';
import type { DayJson } from '../../src/state/day';

const nothing = () => undefined;
const day = (): DayJson => ({
  format: 1,
  title: 'One scene',
  day: { call: '08:00', wrap: '12:00', off: '12:30' },
  pack: [{ labels: ['P1', 'P2'], kind: 'smart-pack-14v4-98wh', charge: '90 %' }],
  holder: [{ name: 'cup', kind: 'cup-smart-14v4', in: 'box', packs: ['P1', { pack: 'P2', at: '10:00' }] }],
  box: [{ name: 'box', kind: 'box-1cup' }],
  device: [{ name: 'recorder', kind: 'recorder-mixer-8', draw: '8.2 W' }],
  wire: [{ from: 'box.out-1', to: 'recorder.dc', length: '0.5 m' }],
  period: [
    { name: 'pier', from: '08:00', air: '-6 °C' },
    { name: 'wrap-out', from: '12:00', air: '2 °C' },
  ],
});

describe('the path of a line', () => {
  it('finds every value where it is written', () => {
    const of = day();
    const lines = written(of).split('\n');
    const leaves: Path[] = [];
    const walk = (value: unknown, path: Path) => {
      if (typeof value === 'object' && value !== null)
        for (const [key, child] of Object.entries(value)) walk(child, [...path, Array.isArray(value) ? Number(key) : key]);
      else leaves.push(path);
    };
    walk(of, []);
    for (const path of leaves) {
      const line = lines.findIndex((_, i) => JSON.stringify(pathAtLine(of, i + 1)) === JSON.stringify(path));
      expect(line, path.join('.')).toBeGreaterThanOrEqual(0);
      expect(lines[line]).toContain(JSON.stringify(valueAt(of, path)));
    }
  });
});

describe('clock times', () => {
  it('go both ways over the whole day', () => {
    for (let minutes = 0; minutes < 1440; ++minutes) expect(clockSeconds(clockText(minutes * 60))).toBe(minutes * 60);
    expect(clockSeconds('24:00')).toBeNull();
    expect(clockSeconds('7')).toBeNull();
    expect(clockText(-60)).toBe('23:59');
  });
  it('reads degrees with either minus', () => {
    expect(degrees('-6 °C')).toBe(-6);
    expect(degrees('−6.5 °C')).toBe(-6.5);
    expect(degrees('43 °F')).toBeNull();
  });
});

describe('renaming', () => {
  it('follows what points at the thing', () => {
    const of = renamed(renamed(day(), 'box', 'hub'), 'P2', 'C2') as Table;
    expect(valueAt(of, ['wire', 0, 'from'])).toBe('hub.out-1');
    expect(valueAt(of, ['holder', 0, 'in'])).toBe('hub');
    expect(valueAt(of, ['holder', 0, 'packs', 1, 'pack'])).toBe('C2');
    expect(valueAt(of, ['pack', 0, 'labels'])).toEqual(['P1', 'C2']);
    expect(valueAt(of, ['box', 0, 'kind'])).toBe('box-1cup');
  });
  it('leaves what a parameter file says', () => {
    const of = day();
    tables(of, 'pack')[0]!.params = { cell: [{ id: 'own' }], fit: { from: 'box' } };
    expect(valueAt(renamed(of, 'box', 'hub'), ['pack', 0, 'params', 'fit', 'from'])).toBe('box');
  });
});

describe('what-ifs', () => {
  it('leave the day alone as written', () => {
    const of = day();
    apply(of, { ...kAsWritten }, nothing);
    expect(of).toEqual(day());
  });
  it('change what they say', () => {
    const of = day();
    apply(of, { air_c: -4, load: 1.1, wrap_min: 45, charge: -0.1, cable: 2 }, nothing);
    expect(valueAt(of, ['period', 0, 'air'])).toBe('-10 °C');
    expect(valueAt(of, ['device', 0, 'draw'])).toBe('9.02 W');
    expect(valueAt(of, ['day', 'wrap'])).toBe('12:45');
    expect(valueAt(of, ['day', 'off'])).toBe('13:15');
    expect(valueAt(of, ['period', 1, 'from'])).toBe('12:45');
    expect(valueAt(of, ['period', 0, 'from'])).toBe('08:00');
    expect(valueAt(of, ['pack', 0, 'charge'])).toBe('80 %');
    expect(valueAt(of, ['wire', 0, 'length'])).toBe('1 m');
  });
});

it('a day file is told from what the page saved, and from neither', () => {
  expect(isDayFile('# my day\nformat = 1\ntitle = "x"\n')).toBe(true);
  expect(isDayFile('{"format": 1, "title": "x"}')).toBe(true);
  expect(isDayFile('{"format": "tillwrap-export-2", "days": []}')).toBe(false);
  expect(isDayFile('{"format": 1, "title": ')).toBe(false); // broken JSON is told as such
  expect(isDayFile('at,volts\n0,12\n')).toBe(false);
});
