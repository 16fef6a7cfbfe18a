import 'fake-indexeddb/auto';
import { describe, expect, it } from 'vitest';
import { openDB } from 'idb';
import { exported, freshId, imported, ImportError, newId, open, stepOf, withRow, zoned, type SavedDay } from '../../src/state/db';
import { keptOf, type OldFact } from '../../src/state/journal';

let n = 0;
const fresh = () => open(`test-${++n}`);
const saved: SavedDay = { id: 'a', name: 'A day', day: '{"format": 1}', undo: [], redo: [], changed_at: '2026-11-25T12:00:00+01:00' };

describe('export and import', () => {
  it('carry everything', async () => {
    const from = await fresh();
    await from.put('days', saved);
    const line = keptOf('{"v":1,"id":"i","at":"2026-11-25T10:00:00Z","by":"p","what":"late","minutes":10}', 'a')!;
    await from.put('lines', { ...line, kept: true });
    await from.put('lines', keptOf('{"v":1,"id":"j","at":"2026-11-25T11:00:00Z","by":"p","what":"late","minutes":5}', '')!);
    const to = await fresh();
    await imported(to, await exported(from));
    expect(await to.getAll('days')).toEqual([saved]);
    expect(await to.getAll('lines')).toEqual(await from.getAll('lines'));
    const one = await fresh();
    expect(await imported(one, await exported(from, ['a']))).toEqual({ days: ['a'], lines: 1 });
    expect(await one.getAll('lines')).toEqual([{ ...line, kept: true }]);
  });
  it('carry the days that follow one, in the order asked for, and what undo has of them', async () => {
    const from = await fresh();
    const before = stepOf('Days in a row: Day 2', saved);
    expect(before).not.toHaveProperty('row');
    const first: SavedDay = withRow({ ...saved, id: 'z', undo: [before] }, [{ day: 'a', charged: false }]);
    await from.put('days', saved);
    await from.put('days', first);
    const to = await fresh();
    expect(await imported(to, await exported(from, ['z', 'a', 'gone']))).toEqual({ days: ['z', 'a'], lines: 0 });
    expect(await to.get('days', 'z')).toEqual(first);
    expect(stepOf('x', first).row).toEqual(first.row);
  });
  it.each([
    ['', 'no tillwrap file'],
    ['{"format": "tillwrap-export-1", "days": [', 'no tillwrap file'],
    ['{"days": []}', 'no "format"'],
    ['{"format": "tillwrap-export-9", "days": []}', 'tillwrap-export-9'],
    [JSON.stringify({ format: 'tillwrap-export-1', days: [saved, { ...saved, day: '{' }] }), 'day 2'],
    [JSON.stringify({ format: 'tillwrap-export-1', days: [{ id: 'b' }] }), 'day 1'],
    [JSON.stringify({ format: 'tillwrap-export-1', facts: [{}] }), 'Fact 1'],
    [JSON.stringify({ format: 'tillwrap-export-2', days: [saved], lines: [{ text: '{"v":1}', day_id: 'a' }] }), 'Line 1'],
    [JSON.stringify({ format: 'tillwrap-export-2', days: {} }), '"days"'],
    [JSON.stringify({ format: 'tillwrap-export-2', days: [{ ...saved, row: [{ day: 'a' }] }] }), 'day 1'],
    [JSON.stringify({ format: 'tillwrap-export-2', days: [{ ...saved, redo: [{ what: 'x', day: '{}', row: 3 }] }] }), 'day 1'],
  ])('change nothing when the file is broken: %s', async (text, says) => {
    const db = await fresh();
    await db.put('days', saved);
    const failed = await imported(db, text).catch((error: unknown) => error);
    expect(failed).toBeInstanceOf(ImportError);
    expect((failed as Error).message).toContain(says);
    expect((failed as Error).message).toContain('Nothing was changed');
    expect(await db.getAll('days')).toEqual([saved]);
  });
});

// What version 1 of the page wrote: facts in words of their own.
const facts: OldFact[] = [
  { id: '1', day_id: 'a', at: '2026-11-25T10:00:00+01:00', entered_at: '2026-11-25T10:00:05+01:00', kind: 'changed', data: { holder: 'cup', pack: 'C2' } },
  { id: '2', day_id: 'a', at: '2026-11-25T10:01:00+01:00', entered_at: '2026-11-25T10:01:05+01:00', kind: 'late', data: { minutes: 15 } },
  { id: '3', day_id: 'a', at: '2026-11-25T10:02:00+01:00', entered_at: '2026-11-25T10:02:05+01:00', kind: 'period', data: { period: 'meal' } },
  { id: '4', day_id: 'a', at: '2026-11-25T10:03:00+01:00', entered_at: '2026-11-25T10:03:05+01:00', kind: 'reading', data: { point: 'gauge', value: 64 } },
  { id: '5', day_id: 'a', at: '2026-11-25T10:04:00+01:00', entered_at: '2026-11-25T10:04:05+01:00', kind: 'taken_back', data: { of: '2' } },
];
const asLines = [
  { what: 'put_in', pack: 'C2', holder: 'cup' },
  { what: 'late', minutes: 15 },
  { what: 'period', name: 'meal' },
  { what: 'reading_unplaced', point: 'gauge', value: 64 },
  { what: 'taken_back', of: '2' },
];

describe('what version 1 kept', () => {
  it('becomes lines when the page is opened', async () => {
    const name = `test-${++n}`;
    const old = await openDB(name, 1, {
      upgrade(db) {
        db.createObjectStore('days', { keyPath: 'id' });
        db.createObjectStore('facts', { keyPath: 'id' }).createIndex('by_day', 'day_id');
        db.createObjectStore('settings');
      },
    });
    await old.put('days', saved);
    for (const fact of facts) await old.put('facts', fact);
    old.close();
    const db = await open(name);
    expect(await db.getAll('days')).toEqual([saved]);
    const lines = (await db.getAll('lines')).sort((a, b) => (a.id < b.id ? -1 : 1));
    expect(lines.map(({ text }) => JSON.parse(text) as unknown)).toEqual(asLines.map((rest, i) => ({ v: 1, id: facts[i]!.id, at: facts[i]!.at, by: 'page', ...rest })));
    expect(lines.every((line) => line.day_id === 'a')).toBe(true);
    expect([...db.objectStoreNames]).not.toContain('facts');
  });
  it('comes in by its export too', async () => {
    const db = await fresh();
    await imported(db, JSON.stringify({ format: 'tillwrap-export-1', days: [saved], facts }));
    expect((await db.getAll('lines')).map((line) => line.id).sort()).toEqual(['1', '2', '3', '4', '5']);
  });
});

describe('ids', () => {
  it('of one page sort in the order they were made, within a millisecond too', () => {
    const made = Array.from({ length: 50 }, freshId);
    expect([...made].sort()).toEqual(made);
  });
  it('sort by time and say their version (UUID 7, RFC 9562)', () => {
    const early = newId(1_700_000_000_000, new Uint8Array(10).fill(255));
    const late = newId(1_700_000_000_001, new Uint8Array(10));
    expect(early < late).toBe(true);
    expect(early).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
    expect(parseInt(early.replaceAll('-', '').slice(0, 12), 16)).toBe(1_700_000_000_000);
  });
  it('times carry a zone and stay the same moment', () => {
    const at = new Date('2026-11-25T12:34:56Z');
    expect(new Date(zoned(at)).getTime()).toBe(at.getTime());
    expect(zoned(at)).toMatch(/[+-]\d{2}:\d{2}$/);
  });
});
