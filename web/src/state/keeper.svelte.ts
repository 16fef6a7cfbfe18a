// The journal as the engine reads it: asked again when a line is added; files in and out; facts written.
import { complaint, EngineError, said } from '../engine/engine';
import type { HealthReply, JournalReply } from '../engine/types';
import { app } from './app.svelte';
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

  async write(what: string, keys: Record<string, string>, at: string): Promise<{ words: string; notes: string[] }> {
    const made = await app.engine.ask<{ line: string; words: string; notes: string[] }>('journal_line', {
      now: nowText(),
      random: [...freshRandom()].map((byte) => byte.toString(16).padStart(2, '0')).join(''),
      by: app.settings.device,
      what,
      keys,
      at: at.trim() || 'now',
    });
    await app.keepLines([made.line], '');
    return made;
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
