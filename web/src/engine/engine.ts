// The page's side of the door: promises with ids; a worker that fails is replaced and its questions asked once more.
import type { Track } from './answers/track';
import type { DoorError, ForecastReply, FromWorker, OddsSummary, StandsReply, Told, ToWorker, TrackShareReply } from './types';

export class EngineError extends Error {
  constructor(readonly detail: DoorError) {
    super(detail.message);
  }
}

// The user stopped it.
export class Stopped extends Error {}

// A complaint in one line: what is wrong, and what to do.
export const complaint = (detail: DoorError): string => (detail.hint ? `${detail.message}; ${detail.hint}` : detail.message);
export const said = (error: unknown): string => (error instanceof EngineError ? complaint(error.detail) : String(error));

// Of a question that takes seconds: who may stop it, who hears how far it is, and what is known so far.
export interface Aside {
  stop?: AbortSignal;
  told?: (told: Told) => void;
  found?: (part: unknown) => void;
}

interface Waiting {
  message: ToWorker;
  tries: number;
  told?: ((told: Told) => void) | undefined;
  found?: ((part: unknown) => void) | undefined;
  done: (reply: FromWorker) => void;
  failed: (error: Error) => void;
}

export type Part = 'day' | 'whole';
type Make = (part: Part) => Worker;

const makeWorker: Make = (part) =>
  part === 'day'
    ? new Worker(new URL('./day-worker.ts', import.meta.url), { type: 'module' })
    : new Worker(new URL('./whole-worker.ts', import.meta.url), { type: 'module' });

// What the day's own part answers; everything else is asked of the whole engine.
const ofTheDay = new Set(['as_json', 'forecast', 'odds_range', 'odds_summary', 'catalogue', 'compose', 'changes', 'stands']);

class Channel {
  private worker: Worker;
  private waiting = new Map<number, Waiting>();
  private next = 1;

  constructor(
    private make: () => Worker,
    private replaced: () => void,
  ) {
    this.worker = this.start();
  }

  ask(question: Record<string, unknown>, more: Partial<ToWorker> = {}, { stop, told, found }: Aside = {}): Promise<FromWorker> {
    const id = this.next++;
    return new Promise((done, failed) => {
      const message: ToWorker = { id, question, ...more };
      this.waiting.set(id, { message, tries: 1, told, found, done, failed });
      stop?.addEventListener('abort', () => this.stop(id), { once: true });
      this.worker.postMessage(message);
    });
  }

  // A worker deep in a computation hears nothing: another takes its place, and what else waited is asked of that one.
  private stop(id: number): void {
    const asked = this.waiting.get(id);
    if (!asked) return;
    this.waiting.delete(id);
    this.worker.terminate();
    this.worker = this.start();
    for (const other of this.waiting.values()) this.worker.postMessage(other.message);
    asked.failed(new Stopped());
  }

  private start(): Worker {
    const worker = this.make();
    worker.onmessage = ({ data }: MessageEvent<FromWorker & { broken?: boolean }>) => {
      if (data.broken) {
        this.replace(data.error?.message ?? '');
        return;
      }
      const asked = this.waiting.get(data.id);
      if (!asked) return;
      if (data.told) {
        asked.told?.(data.told);
        return;
      }
      if (data.found !== undefined) {
        asked.found?.(JSON.parse(data.found));
        return;
      }
      this.waiting.delete(data.id);
      if (data.error) asked.failed(new EngineError(data.error));
      else asked.done(data);
    };
    worker.onerror = (event) => {
      event.preventDefault?.();
      this.replace(event.message ?? '');
    };
    return worker;
  }

  private replace(why: string): void {
    this.worker.terminate();
    this.replaced();
    this.worker = this.start();
    for (const [id, asked] of this.waiting) {
      if (asked.tries >= 2) {
        this.waiting.delete(id);
        asked.failed(new EngineError({ source: 'the engine', line: 0, column: 0, message: why, hint: '' }));
        continue;
      }
      asked.tries += 1;
      this.worker.postMessage(asked.message);
    }
  }
}

const joined = (parts: Float64Array[]): Float64Array => {
  const all = new Float64Array(parts.reduce((sum, part) => sum + part.length, 0));
  let next = 0;
  for (const part of parts) {
    all.set(part, next);
    next += part.length;
  }
  return all;
};

type Post = 'first' | 'beside' | 'deciding' | 'slow';

// Up to four workers, each made when first asked: the day; a second day for half of the odds and of the tracking; the whole engine; and the
// whole engine again for what takes seconds, so that the others go on answering.
export class Engine {
  private channels = new Map<Post, Channel>();

  // `replaced` is told when a worker failed and another took its place.
  constructor(
    private make: Make = makeWorker,
    private replaced: () => void = () => {},
  ) {
    this.at('first');
  }

  private at(post: Post): Channel {
    let channel = this.channels.get(post);
    if (!channel) {
      const part = post === 'first' || post === 'beside' ? 'day' : 'whole';
      channel = new Channel(() => this.make(part), this.replaced);
      this.channels.set(post, channel);
    }
    return channel;
  }

  async ask<Answer>(ask: string, fields: Record<string, unknown>): Promise<Answer> {
    const reply = await this.at(ofTheDay.has(ask) ? 'first' : 'deciding').ask({ ask, ...fields });
    return reply.answer as Answer;
  }

  // A question that takes seconds, and can be stopped.
  async askAside<Answer>(ask: string, fields: Record<string, unknown>, how: Aside = {}): Promise<Answer> {
    return (await this.at('slow').ask({ ask, ...fields }, {}, how)).answer as Answer;
  }

  async forecast(
    day: string,
    options: { one_loss?: boolean; odds_days?: number; quick?: boolean; name?: string } = {},
    post: 'first' | 'beside' = 'first',
  ): Promise<ForecastReply & { curves: Float64Array }> {
    const reply = await this.at(post).ask({ ask: 'forecast', day, strip: true, ...options }, { want: 'curves' });
    return { ...(reply.answer as ForecastReply), curves: reply.numbers! };
  }

  // The day as it stands after the journal's lines, with the curves of its strip.
  async stands(question: Record<string, unknown>): Promise<StandsReply & { curves: Float64Array }> {
    const reply = await this.at('first').ask({ ask: 'stands', ...question }, { want: 'curves' });
    return { ...(reply.answer as StandsReply), curves: reply.numbers! };
  }

  // What the readings say of it, in steps shared between two workers; each is given what both have found so far.
  async track(question: Record<string, unknown>): Promise<Track> {
    const posts: Post[] = ['beside', 'first'];
    let known: Float64Array = new Float64Array(0);
    const step = (share: number) =>
      this.at(posts[share]!).ask({ ask: 'track_share', ...question, share }, { samples: known, want: 'samples' });
    for (let last = false; ; ) {
      const replies = await Promise.all(last ? [step(0)] : posts.map((_, share) => step(share)));
      const { track, last: was_last } = replies[0]!.answer as TrackShareReply;
      if (track) return track;
      last = was_last;
      known = joined([known, ...replies.flatMap(({ numbers }) => [Float64Array.of(numbers!.length), numbers!])]);
    }
  }

  // All days, shared between two workers; the same answer with one.
  async odds(day: string, days: number, seed = 1, progress: (share: number) => void = () => {}): Promise<OddsSummary> {
    const margins = new Float64Array(days);
    const chunk = 250; // a what-if waits for one at most
    let next = 0;
    let finished = 0;
    const work = async (channel: Channel) => {
      for (;;) {
        const first = next;
        if (first >= days) return;
        const count = Math.min(chunk, days - first);
        next += count;
        const reply = await channel.ask({ ask: 'odds_range', day, days, seed, first, count }, { want: 'samples' });
        margins.set(reply.numbers!, first);
        finished += count;
        progress(finished / days);
      }
    };
    await Promise.all([work(this.at('first')), work(this.at('beside'))]);
    const reply = await this.at('first').ask({ ask: 'odds_summary', day, days, seed }, { samples: margins });
    return reply.answer as OddsSummary;
  }
}
