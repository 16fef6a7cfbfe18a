// A question that takes a while: when it began, how far it is, stopped by its user.
import { EngineError, said, Stopped } from '../engine/engine';
import type { DoorError, Told } from '../engine/types';
import { app } from './app.svelte';

// How long each question took on this device the last time it was asked.
const took_s = new Map<string, number>();

export class Slow<Answer> {
  waited_s = $state(0);
  told = $state.raw<Told | null>(null);
  found = $state.raw<Answer | null>(null); // as much of the answer as is known
  stopped = $state(false);
  fault = $state('');
  refused = $state.raw<DoorError | null>(null);
  private control = $state.raw<AbortController | null>(null);
  busy = $derived(this.control !== null);

  constructor(private ask: string) {}

  get last_s(): number | null {
    return took_s.get(this.ask) ?? null;
  }

  // Nothing when it was stopped or refused, which is then told by `stopped` and `fault`.
  async go(fields: Record<string, unknown>): Promise<Answer | null> {
    const control = new AbortController();
    this.control = control;
    this.waited_s = 0;
    this.told = null;
    this.found = null;
    this.stopped = false;
    this.fault = '';
    this.refused = null;
    const start = performance.now();
    const gone_s = () => (performance.now() - start) / 1000;
    const ticks = setInterval(() => (this.waited_s = Math.floor(gone_s())), 250);
    try {
      const answer = await app.engine.askAside<Answer>(this.ask, fields, { stop: control.signal, told: (told) => (this.told = told), found: (part) => (this.found = part as Answer) });
      took_s.set(this.ask, Math.max(1, Math.round(gone_s())));
      return answer;
    } catch (error) {
      if (error instanceof Stopped) this.stopped = true;
      else this.fault = said(error);
      if (error instanceof EngineError) this.refused = error.detail;
      return null;
    } finally {
      clearInterval(ticks);
      this.control = null;
    }
  }

  stop(): void {
    this.control?.abort();
  }
}
