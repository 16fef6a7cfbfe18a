import { describe, expect, it } from 'vitest';
import { sameVersion, type SavedDay } from '../../src/state/db';
import { Tabs } from '../../src/state/tabs';

const saved = (over: Partial<SavedDay> = {}): SavedDay => ({ id: 'a', name: 'A', day: '{}', undo: [], redo: [], changed_at: '2026-11-25T10:00:00+00:00', ...over });

describe('tabs on the same storage', () => {
  it('tell one another what they have kept, and not themselves', async () => {
    const heard: [string, string[], boolean][] = [];
    const [one, other] = ['one', 'other'].map((name) => new Tabs((days, lines) => heard.push([name, days, lines])));
    one!.listen('test');
    other!.listen('test');
    one!.tell(['a'], false);
    one!.tell([], false); // nothing: not said
    other!.tell([], true);
    await new Promise((then) => setTimeout(then, 50));
    expect(heard.sort()).toEqual([['one', [], true], ['other', ['a'], false]]);
    one!.close();
    other!.close();
  });
});

describe('a day is another version', () => {
  it('after an edit within the same second, an undo, a rename or another row', () => {
    expect(sameVersion(saved(), saved())).toBe(true);
    expect(sameVersion(saved(), saved({ day: '{"format": 1}' }))).toBe(false);
    expect(sameVersion(saved(), saved({ undo: [{ what: 'x', day: '{}' }] }))).toBe(false);
    expect(sameVersion(saved(), saved({ name: 'B' }))).toBe(false);
    expect(sameVersion(saved(), saved({ row: [{ day: 'b', charged: true }] }))).toBe(false);
  });
});
