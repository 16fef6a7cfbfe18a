// The day as it stands, asked again when something is noted: what was known stays on the screen, then the day with what
// was noted, then what the readings say of it. The newest question wins.
import { said, type Engine } from '../engine/engine';
import type { Track } from '../engine/answers/track';
import type { StandsReply } from '../engine/types';
import { Newest } from './newest';

export interface Question extends Record<string, unknown> {
  day: string;
  lines: string;
  at_s: number;
}

type Asker = Pick<Engine, 'stands' | 'track'>;

export class Tracked {
  stands = $state.raw<(StandsReply & { curves: Float64Array }) | null>(null);
  track = $state.raw<Track | null>(null);
  failed = $state('');
  private asking = $state(0);
  private newest: Question | null = null;
  private readonly standing: Newest<Question>;
  private readonly weighing: Newest<Question>;

  constructor(engine: Asker) {
    const busy = (now: boolean) => (this.asking += now ? 1 : -1);
    // An answer about a day that is no longer shown is dropped.
    const shown = (question: Question) => question.day === this.newest?.day;
    const trying = async (question: Question, work: () => Promise<void>) => {
      try {
        await work();
      } catch (error) {
        if (shown(question)) this.failed = said(error);
      }
    };
    this.standing = new Newest(
      (question) =>
        trying(question, async () => {
          // Once the readings were weighed, the changes are told by that answer.
          const answer = await engine.stands({ ...question, changes: this.track === null });
          if (shown(question)) this.stands = answer;
        }),
      busy,
    );
    this.weighing = new Newest(
      (question) =>
        trying(question, async () => {
          const answer = await engine.track(question);
          if (shown(question)) this.track = answer;
          if (question === this.newest) this.failed = '';
        }),
      busy,
    );
  }

  // What is shown is from before the last question.
  get behind(): boolean {
    return this.asking > 0;
  }

  // Another day: nothing of the last one stays.
  clear(): void {
    this.newest = null;
    this.stands = null;
    this.track = null;
    this.failed = '';
  }

  // What was asked last is not asked again, unless it failed.
  ask(question: Question): void {
    const last = this.newest;
    const same = last?.day === question.day && last.lines === question.lines && last.at_s === question.at_s;
    if (same && this.failed === '') return;
    this.newest = question;
    this.standing.put(question);
    this.weighing.put(question);
  }
}
