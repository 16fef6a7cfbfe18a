import { describe, expect, it } from 'vitest';
import { Engine, type Part } from '../../src/engine/engine';
import type { FromWorker, ToWorker } from '../../src/engine/types';

// Workers that answer as told: each step of a tracking gives the share's number and how much was known by then.
class Fake {
  onmessage: ((event: { data: FromWorker & { broken?: boolean } }) => void) | null = null;
  onerror: unknown = null;
  ended = false;
  constructor(
    readonly part: Part,
    readonly log: ToWorker[],
    readonly breaks: { now: boolean },
  ) {}
  terminate() {
    this.ended = true;
  }
  postMessage(message: ToWorker) {
    this.log.push(message);
    queueMicrotask(() => {
      if (this.ended) return;
      const share = message.question.share as number;
      if (this.breaks.now && share === 1) {
        this.breaks.now = false;
        this.onmessage?.({ data: { id: message.id, broken: true } });
        return;
      }
      const known = message.samples!;
      const steps = known.length / 5; // of each step 1, number, 2, number, number
      const data: FromWorker =
        steps === 2
          ? { id: message.id, answer: { track: { known: [...known] } } }
          : { id: message.id, answer: { last: steps === 1 }, numbers: share === 0 ? Float64Array.of(10 + steps) : Float64Array.of(20 + steps, 30 + steps) };
      this.onmessage?.({ data });
    });
  }
}

function engine(breaks = { now: false }) {
  const log: ToWorker[] = [];
  const replaced = { times: 0 };
  const made = new Engine(
    (part) => new Fake(part, log, breaks) as unknown as Worker,
    () => (replaced.times += 1),
  );
  return { made, log, replaced };
}

const all = [1, 10, 2, 20, 30, 1, 11, 2, 21, 31];

describe('tracking in two workers', () => {
  it('gives each worker what both have found, and asks one for the answer', async () => {
    const { made, log } = engine();
    expect(await made.track({ day: '{}', lines: '', at_s: 0 })).toEqual({ known: all });
    expect(log.map(({ question, samples }) => [question.share, samples!.length])).toEqual([
      [0, 0],
      [1, 0],
      [0, 5],
      [1, 5],
      [0, 10],
    ]);
    expect(log.every(({ question }) => question.ask === 'track_share')).toBe(true);
  });
  it('goes on when a worker fails on the way and another takes its place', async () => {
    const { made, replaced } = engine({ now: true });
    expect(await made.track({ day: '{}', lines: '', at_s: 0 })).toEqual({ known: all });
    expect(replaced.times).toBe(1);
  });
});
