import 'fake-indexeddb/auto';
import { describe, expect, it } from 'vitest';
import { exported, imported, ImportError, newId, open, zoned, type SavedDay } from '../../src/state/db';

let n = 0;
const fresh = () => open(`test-${++n}`);
const saved: SavedDay = { id: 'a', name: 'A day', day: '{"format": 1}', undo: [], redo: [], changed_at: '2026-11-25T12:00:00+01:00' };

describe('export and import', () => {
  it('carry everything', async () => {
    const from = await fresh();
    await from.put('days', saved);
    const to = await fresh();
    await imported(to, await exported(from));
    expect(await to.getAll('days')).toEqual([saved]);
  });
  it.each([
    ['', 'no tillwrap file'],
    ['{"format": "tillwrap-export-1", "days": [', 'no tillwrap file'],
    ['{"days": []}', 'no "format"'],
    ['{"format": "tillwrap-export-9", "days": []}', 'tillwrap-export-9'],
    [JSON.stringify({ format: 'tillwrap-export-1', days: [saved, { ...saved, day: '{' }] }), 'day 2'],
    [JSON.stringify({ format: 'tillwrap-export-1', days: [{ id: 'b' }] }), 'day 1'],
    [JSON.stringify({ format: 'tillwrap-export-1', facts: [{}] }), 'Fact 1'],
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

describe('ids', () => {
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
