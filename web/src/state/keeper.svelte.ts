// The journal as the engine reads it: asked again when a line is added; files in and out; facts written.
import { complaint, EngineError, said } from '../engine/engine';
import type { HealthReply, JournalReply } from '../engine/types';
import { app } from './app.svelte';
import { written, type DayJson, type Table } from './day';
import { freshRandom, zoned } from './db';
import { fresh, joined, linesOf, type Keys } from './journal';

// Times typed without one are in this device's zone; the engine has no clock.
export const nowText = (): string => zoned(new Date());

// The command line's way of naming an option says nothing on a page.
const plain = (words: string): string => words.replaceAll('--', '').replace(/^such as: tillwrap journal add.*/, '');

export function refusal(error: unknown): string {
  if (!(error instanceof EngineError)) return said(error);
  return complaint({ ...error.detail, message: plain(error.detail.message), hint: plain(error.detail.hint) });
}

export interface Incoming {
  answer: JournalReply; // of the file alone
  texts: string[]; // its good lines
}

export class Keeper {
  answer = $state.raw<JournalReply | null>(null);
  failed = $state('');
  private round = 0;

  async read(lines: string): Promise<void> {
    const mine = ++this.round;
    try {
      const found = await app.engine.ask<JournalReply>('journal', { now: nowText(), lines });
      if (mine !== this.round) return;
      this.answer = found;
      this.failed = '';
    } catch (error) {
      if (mine === this.round) this.failed = said(error);
    }
  }

  // A file is looked at whole before anything is taken in.
  async look(file: string): Promise<Incoming> {
    const answer = await app.engine.ask<JournalReply>('journal', { now: nowText(), lines: file });
    const good = new Set(answer.lines.map((line) => line.text));
    return { answer, texts: linesOf(file).filter((line) => good.has(line)) };
  }

  async take(texts: string[]): Promise<{ fresh: number; had: number }> {
    const had = texts.length - fresh(texts, app.lines).length;
    return { fresh: await app.keepLines(texts, ''), had };
  }

  // All lines in order, as the command line writes them.
  exported(): string {
    return (this.answer?.lines ?? []).map((line) => line.text + '\n').join('');
  }

  private made(what: string, keys: Record<string, string>, at: string, after?: string): Promise<{ line: string; id: string; words: string; notes: string[] }> {
    return app.engine.ask('journal_line', {
      now: nowText(),
      random: [...freshRandom()].map((byte) => byte.toString(16).padStart(2, '0')).join(''),
      by: app.settings.device,
      what,
      keys,
      at: at.trim() || 'now',
      ...(after ? { after } : {}),
    });
  }

  async write(what: string, keys: Record<string, string>, at: string): Promise<{ words: string; notes: string[] }> {
    const made = await this.made(what, keys, at);
    await app.keepLines([made.line], '');
    return made;
  }

  // The packs' readings of a date by that day's wiring; one without a date has that one.
  healthOfDay(day: DayJson, name: string, date: string, pack: string): Promise<HealthReply> {
    const dated = { ...day, day: { ...(day.day as Table), date } };
    return app.engine.askAside<HealthReply>('health', { now: nowText(), lines: joined(app.lines), pack, name, day: written(dated) });
  }

  // What a day told of its packs, all or none.
  async keepTests(tests: HealthReply['to_keep']): Promise<void> {
    const lines: string[] = [];
    let after: string | undefined;
    for (const { at, keys } of tests) {
      const made = await this.made('tested', keys, at, after);
      lines.push(made.line);
      after = made.id;
    }
    await app.keepLines(lines, '');
  }

  health(name: string, log: string, pack: string, kind: string): Promise<HealthReply> {
    return app.engine.askAside<HealthReply>('health', {
      now: nowText(),
      log,
      name,
      lines: joined(app.lines),
      ...(pack ? { pack } : {}),
      ...(kind ? { kind } : {}),
    });
  }

  test(keys: Keys): Promise<unknown> {
    return app.note('tested', keys, new Date(), '');
  }
}
