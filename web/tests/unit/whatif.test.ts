// What-ifs, judged by the engine: each stays a day it accepts, and does what its name says.
import { describe, expect, it } from 'vitest';
import { copy, tables, text, type DayJson } from '../../src/state/day';
import { Newest } from '../../src/state/newest';
import { apply, kAsWritten, ranges, type WhatIf } from '../../src/state/whatif';
import { example, find, forecast } from './door';

const days = ['saltmarsh-ferry', 'news-bag', 'cinema-plate', 'bank-on-a-barrel', 'aa-only'];
interface Answer {
  margin_s: number;
  off_s: number;
  devices: { name: string; energy_wh: number; off_s: number }[];
  packs: { label: string; start_charge: number }[];
}
const asked = (day: DayJson): Answer => {
  const { answer, error } = forecast(day, false);
  if (error) throw new Error(`${error.message}; ${error.hint}`);
  return answer!.forecast as Answer;
};
const tried = (name: string, w: Partial<WhatIf>): Answer => {
  const day = example(name);
  apply(day, { ...kAsWritten, ...w }, find);
  return asked(day);
};

describe.each(days)('%s', (name) => {
  it('takes both ends of every range', () => {
    for (const [key, { least, most, fine }] of Object.entries(ranges(example(name))) as [keyof WhatIf, ReturnType<typeof ranges>['load']][])
      for (const value of [least, kAsWritten[key] - fine, kAsWritten[key] + fine, most]) expect(() => tried(name, { [key]: value }), `${key} ${value}`).not.toThrow();
  });
  it('load of one part more: energy of a day that lasts grows by that part', () => {
    // Power times time: of devices that ran all day both times, and were not fed by what they measured.
    const [one, more] = [asked(example(name)), tried(name, { load: 1.03 })];
    const measured = tables(example(name), 'measured').length > 0;
    for (const [k, device] of one.devices.entries()) {
      if (measured || device.off_s > 0 || more.devices[k]!.off_s > 0 || device.energy_wh < 0.5) continue;
      const phantom = Array.isArray(tables(example(name), 'device').find((of) => text(of, 'name') === device.name)?.phantom);
      expect(more.devices[k]!.energy_wh / device.energy_wh, device.name).toBeGreaterThan(phantom ? 1.02 : 1.025);
      expect(more.devices[k]!.energy_wh / device.energy_wh, device.name).toBeLessThan(1.035);
    }
  });
  it('wrap later and earlier by what was asked', () => {
    const off_s = asked(example(name)).off_s;
    expect(tried(name, { wrap_min: 60 }).off_s - off_s).toBe(3600);
    expect(tried(name, { wrap_min: -60 }).off_s - off_s).toBe(-3600);
  });
  it('less charge is less charge, never above full', () => {
    const seen = new Set<string>(); // a later turn starts with what a charger put in
    for (const pack of tried(name, { charge: 0.4 }).packs) {
      if (seen.has(pack.label)) continue;
      seen.add(pack.label);
      expect(pack.start_charge).toBeLessThanOrEqual(1.0001);
    }
    const day = example(name);
    const first = asked(day).packs[0]!;
    const less = tried(name, { charge: -0.2 }).packs[0]!;
    expect(first.start_charge - less.start_charge).toBeCloseTo(0.2, 2);
  });
  it('colder, heavier or emptier never lasts longer', () => {
    const { margin_s } = asked(example(name));
    for (const w of [{ load: 1.3 }, { charge: -0.3 }]) expect(tried(name, w).margin_s, JSON.stringify(w)).toBeLessThanOrEqual(margin_s + 60);
  });
});

describe('the newest question', () => {
  it('replaces what waits, and every piece of work that ends is the newest of its time', async () => {
    const done: number[] = [];
    const release: (() => void)[] = [];
    const newest = new Newest<number>(async (item) => {
      await new Promise<void>((go) => release.push(go));
      done.push(item);
    });
    for (let k = 0; k < 100; ++k) newest.put(k);
    release[0]!();
    await new Promise((go) => setTimeout(go));
    for (let k = 100; k < 200; ++k) newest.put(k);
    release[1]!();
    await new Promise((go) => setTimeout(go));
    release[2]!();
    await new Promise((go) => setTimeout(go));
    expect(done).toEqual([0, 99, 199]);
    expect(release.length).toBe(3);
    expect(copy(newest.overtaken)).toBe(false);
  });
});
