// Edits, judged by the engine itself: what the page adds or takes away leaves a day the engine accepts, or one whose
// complaint leads to the thing.
import { describe, expect, it } from 'vitest';
import { addBox, addCharger, addDevice, addHolder, addMeasured, addPack, addPeriod, addPlace, addSource, addWire } from '../../src/state/add';
import { copy, pathAtLine, tables, text, type DayJson } from '../../src/state/day';
import { bays, copyThing, removeThing, rename, renamePeriod, setBays, thingName, type Things } from '../../src/state/edit';
import { forms, shows } from '../../src/state/forms';
import { ask, entries, example, find, forecast } from './door';
import { readFileSync } from 'node:fs';

const days = ['saltmarsh-ferry', 'news-bag', 'cinema-plate', 'bank-on-a-barrel', 'aa-only'];
const lists: Things[] = ['period', 'pack', 'holder', 'box', 'source', 'charger', 'device', 'wire', 'place', 'measured'];
const complaint = (day: DayJson): string => {
  const { error } = forecast(day);
  return error ? `${error.message}; ${error.hint} at ${JSON.stringify(pathAtLine(day, error.line))}` : '';
};

describe('what is added', () => {
  const added: [string, (day: DayJson) => void][] = [
    ...entries('packs').map((entry): [string, (day: DayJson) => void] => [`pack ${entry.id}`, (day) => void addPack(day, entry.id)]),
    ...entries('holders').filter((entry) => entry.id !== 'built-in').map((entry): [string, (day: DayJson) => void] => [`holder ${entry.id}`, (day) => void addHolder(day, entry, find)]),
    ...entries('boxes').map((entry): [string, (day: DayJson) => void] => [`box ${entry.id}`, (day) => void addBox(day, entry, find)]),
    ...entries('sources').map((entry): [string, (day: DayJson) => void] => [`source ${entry.id}`, (day) => void addSource(day, entry, find)]),
    ...entries('chargers').map((entry): [string, (day: DayJson) => void] => [`charger ${entry.id}`, (day) => void addCharger(day, entry)]),
    ...entries('devices').map((entry): [string, (day: DayJson) => void] => [`device ${entry.id}`, (day) => void addDevice(day, entry, find)]),
    ['place', (day) => void addPlace(day, 'shed')],
    ['lead', (day) => void addWire(day, find)],
    ['measured draw', (day) => addMeasured(day)],
    ['period', (day) => addPeriod(day, 'more', '12:00')],
  ];
  it.each(added)('%s: accepted by the demo day, or its complaint leads to what was added', (_, add) => {
    const day = example('saltmarsh-ferry');
    const was = copy(day);
    add(day);
    const { error } = forecast(day);
    if (!error) return;
    const path = pathAtLine(day, error.line);
    expect(path, error.message).not.toBeNull();
    const [list, index] = path!;
    expect(lists).toContain(list);
    expect(Number(index), `${error.message} ${JSON.stringify(path)}`).toBeGreaterThanOrEqual(tables(was, String(list)).length);
  });
  it('is accepted by the demo day in nine cases of ten', () => {
    const refused = added.filter(([, add]) => {
      const day = example('saltmarsh-ferry');
      add(day);
      return complaint(day) !== '';
    });
    expect(refused.length / added.length, refused.map(([name]) => name).join(', ')).toBeLessThan(0.1);
  }, 60_000);
});

describe('what is taken away', () => {
  it.each(days)('%s: each thing by itself; a complaint never points at what is gone', (name) => {
    const whole = example(name);
    for (const list of lists)
      tables(whole, list).forEach((thing, i) => {
        const day = copy(whole);
        removeThing(day, list, i);
        // A name that still stands somewhere would be "no such ..." to the engine.
        const gone = list === 'pack' || list === 'wire' || list === 'measured' ? '' : text(thing, 'name');
        const said = complaint(day);
        if (gone !== '') expect(said.startsWith(`there is no`) && said.includes(`"${gone}"`), `${list} ${thingName(list, thing)}: ${said}`).toBe(false);
        expect(said, `${list} ${thingName(list, thing)}`).not.toMatch(/^no (pack|holder|device|place|source|charger|period) /);
      });
  });
  it('box, its holder and leads go together', () => {
    const day = example('saltmarsh-ferry');
    removeThing(day, 'box', 0);
    expect(tables(day, 'holder').some((holder) => text(holder, 'in') === 'box')).toBe(false);
    expect(tables(day, 'wire').some((wire) => text(wire, 'from').startsWith('box.'))).toBe(false);
    expect(tables(day, 'pack').some((pack) => text(pack, 'label') === 'C1')).toBe(true);
  });
});

describe('what is renamed', () => {
  it.each(days)('%s: every name at once, and the engine sees the same day', (name) => {
    const whole = example(name);
    const day = copy(whole);
    for (const list of ['holder', 'box', 'source', 'charger', 'device'] as const) for (const thing of tables(whole, list)) rename(day, text(thing, 'name'), `new ${text(thing, 'name')}`);
    tables(whole, 'period').forEach((period, i) => renamePeriod(day, i, text(period, 'name'), `new ${text(period, 'name')}`));
    const margin = (of: DayJson) => (forecast(of).answer!.forecast as { margin_s: number }).margin_s;
    expect(complaint(day)).toBe('');
    expect(margin(day)).toBe(margin(whole));
  });
  it('an own place, wherever it stands', () => {
    const day = example('saltmarsh-ferry');
    day.place = [{ name: 'shed', like: 'fixed', temperature: '5 °C' }];
    tables(day, 'holder')[0]!.place = 'shed';
    tables(day, 'period')[0]!.no_hands = ['shed'];
    tables(day, 'period')[1]!.no_hands = { shed: '07:30-08:00' };
    expect(complaint(day)).toBe('');
    rename(day, 'shed', 'hut');
    expect(complaint(day)).toBe('');
    expect(JSON.stringify(day)).not.toContain('shed');
    removeThing(day, 'place', 0);
    expect(complaint(day)).toBe('');
    expect(JSON.stringify(day)).not.toContain('hut');
  });
});

describe('copies and bays', () => {
  it('a copied pack has a label of its own', () => {
    const day = example('saltmarsh-ferry');
    copyThing(day, 'pack', 1);
    expect(complaint(day)).toBe('');
  });
  it('what is written into a bay is read again, by the engine too', () => {
    const day = example('saltmarsh-ferry');
    const charger = tables(day, 'charger')[0]!;
    const turns = bays(charger, 2);
    expect(turns).toEqual([[{ pack: 'C1', from: '10:45', until: '13:35' }], []]);
    turns[1]!.push({ pack: 'C3', from: '11:00', until: '12:00' });
    setBays(charger, turns);
    expect(bays(charger, 2)).toEqual(turns);
    expect(complaint(day)).toBe('');
  });
});

describe('the forms', () => {
  const schema = JSON.parse(readFileSync(new URL('../../../schema/day.schema.json', import.meta.url), 'utf8')) as {
    properties: Record<string, { items?: { properties?: Record<string, unknown>; $ref?: string } }>;
    $defs?: Record<string, { properties?: Record<string, unknown> }>;
  };
  const keys = (list: Things): string[] => {
    const items = schema.properties[list]!.items!;
    const at = items.$ref ? schema.$defs![items.$ref.split('/').at(-1)!] : items;
    return Object.keys(at!.properties!);
  };
  it.each(lists)('%s: a field for each key of the schema, and no other', (list) => {
    for (const key of keys(list)) expect(shows(list, key), `${list}.${key}`).toBe(true);
    for (const field of forms[list]) expect(keys(list).some((key) => shows(list, key) && (key === field.key || field.as === 'live')), `${list}: ${field.key}`).toBe(true);
  });
  it('a refused value of each written kind leads back to its key', () => {
    for (const [list, index, key] of [['box', 0, 'main_fuse'], ['charger', 0, 'amps'], ['source', 0, 'kind'], ['wire', 0, 'length'], ['holder', 0, 'place'], ['period', 1, 'air']] as const) {
      const day = example('saltmarsh-ferry');
      tables(day, list)[index]![key] = 'nonsense 99';
      const { error } = ask({ ask: 'forecast', day: JSON.stringify(day, null, 1), quick: true });
      expect(error, `${list}.${key}`).toBeDefined();
      expect(pathAtLine(day, error!.line), error!.message).toEqual([list, index, key]);
    }
  });
});
