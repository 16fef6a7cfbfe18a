import { describe, expect, it } from 'vitest';
import type { Track } from '../../src/engine/answers/track';
import type { StandsReply } from '../../src/engine/types';
import { Tracked, type Question } from '../../src/state/tracked.svelte';

const asked = (lines: string): Question => ({ day: '{}', lines, at_s: 0 });
type Kept<Kind> = { question: Question; done: (answer: Kind) => void; failed: (why: Error) => void };

function engine() {
  const stands: Kept<StandsReply & { curves: Float64Array }>[] = [];
  const track: Kept<Track>[] = [];
  const into =
    <Kind>(list: Kept<Kind>[]) =>
    (question: Record<string, unknown>) =>
      new Promise<Kind>((done, failed) => list.push({ question: question as Question, done, failed }));
  return { stands: into(stands), track: into(track), asked: { stands, track } };
}
const stood = (late_s: number) => ({ late_s }) as StandsReply & { curves: Float64Array };
const weighed = (safe_s: number) => ({ safe_s }) as Track;
const settle = () => new Promise((done) => setTimeout(done));

describe('the day as it stands', () => {
  it('shows what was known, then the day, then what the readings say', async () => {
    const fake = engine();
    const tracked = new Tracked(fake);
    tracked.ask(asked('a'));
    fake.asked.stands[0]!.done(stood(0));
    await settle();
    expect(fake.asked.stands[0]!.question.changes).toBe(true);
    expect(tracked.stands?.late_s).toBe(0);
    expect(tracked.track).toBeNull();
    expect(tracked.behind).toBe(true);
    fake.asked.track[0]!.done(weighed(1));
    await settle();
    expect(tracked.track?.safe_s).toBe(1);
    expect(tracked.behind).toBe(false);
    tracked.ask(asked('b'));
    expect(fake.asked.stands[1]!.question.changes).toBe(false);
    expect(tracked.track?.safe_s).toBe(1);
    expect(tracked.behind).toBe(true);
  });
  it('asks the same but once, and again when it failed', async () => {
    const fake = engine();
    const tracked = new Tracked(fake);
    tracked.ask(asked('a'));
    tracked.ask(asked('a'));
    fake.asked.stands[0]!.done(stood(0));
    fake.asked.track[0]!.done(weighed(1));
    await settle();
    tracked.ask(asked('a'));
    await settle();
    expect([fake.asked.stands.length, fake.asked.track.length]).toEqual([1, 1]);
    tracked.ask(asked('b'));
    fake.asked.stands[1]!.done(stood(0));
    fake.asked.track[1]!.failed(new Error('no'));
    await settle();
    expect(tracked.failed).not.toBe('');
    tracked.ask(asked('b'));
    await settle();
    expect([fake.asked.stands.length, fake.asked.track.length]).toEqual([3, 3]);
  });
  it('asks only the newest of what came meanwhile', async () => {
    const fake = engine();
    const tracked = new Tracked(fake);
    for (const lines of ['a', 'b', 'c']) tracked.ask(asked(lines));
    fake.asked.stands[0]!.done(stood(0));
    fake.asked.track[0]!.done(weighed(1));
    await settle();
    expect(fake.asked.track.map(({ question }) => question.lines)).toEqual(['a', 'c']);
    expect(tracked.behind).toBe(true);
  });
  it('shows the day after the newest line while older readings are still weighed', async () => {
    const fake = engine();
    const tracked = new Tracked(fake);
    tracked.ask(asked('a'));
    fake.asked.stands[0]!.done(stood(0));
    await settle();
    tracked.ask(asked('b'));
    fake.asked.stands[1]!.done(stood(60));
    await settle();
    expect(tracked.stands?.late_s).toBe(60);
    expect(fake.asked.track).toHaveLength(1);
  });
  it('drops answers of a day that is no longer shown', async () => {
    const fake = engine();
    const tracked = new Tracked(fake);
    tracked.ask(asked('a'));
    tracked.clear();
    tracked.ask({ ...asked('b'), day: '{"other": 1}' });
    fake.asked.stands[0]!.done(stood(60));
    fake.asked.track[0]!.done(weighed(1));
    await settle();
    expect(tracked.stands).toBeNull();
    expect(tracked.track).toBeNull();
  });
  it('says why it could not, keeps what was known, and answers again', async () => {
    const fake = engine();
    const tracked = new Tracked(fake);
    tracked.ask(asked('a'));
    fake.asked.stands[0]!.done(stood(0));
    fake.asked.track[0]!.failed(new Error('no'));
    await settle();
    expect(tracked.failed).toContain('no');
    expect(tracked.stands?.late_s).toBe(0);
    tracked.ask(asked('b'));
    fake.asked.stands[1]!.done(stood(0));
    fake.asked.track[1]!.done(weighed(2));
    await settle();
    expect(tracked.failed).toBe('');
  });
});
