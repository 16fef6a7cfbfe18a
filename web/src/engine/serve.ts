// An engine in its worker: one question at a time, in the order they come.
import type { FromWorker, ToWorker } from './types';

interface Engine {
  ccall(name: string, returns: 'string' | 'number', takes: string[], given: unknown[]): string | number;
  HEAPF64: Float64Array;
}

export type Load = (options: { locateFile: (name: string) => string; told: (part: string, done: number, pieces: number) => void; found: (json: string) => void }) => Promise<never>;

const kBetween_ms = 100;

function numbers(of: Engine, name: 'curves' | 'samples'): Float64Array {
  const start = of.ccall(`tillwrap_${name}`, 'number', [], []) as number;
  const length = of.ccall(`tillwrap_${name}_length`, 'number', [], []) as number;
  return of.HEAPF64.slice(start / 8, start / 8 + length);
}

export function serve(load: Load, wasmUrl: string): void {
  let asked = 0;
  let told_ms = 0;
  const engine: Promise<Engine> = load({
    locateFile: () => wasmUrl,
    told: (part, done, pieces) => {
      if (done > 0 && performance.now() - told_ms < kBetween_ms) return; // a part's beginning is never left out
      told_ms = performance.now();
      self.postMessage({ id: asked, told: { part, done, pieces } } satisfies FromWorker);
    },
    found: (json) => self.postMessage({ id: asked, found: json } satisfies FromWorker),
  });
  self.onmessage = async ({ data }: MessageEvent<ToWorker>) => {
    const reply: FromWorker = { id: data.id };
    try {
      const ready = await engine;
      if (data.samples) {
        const room = ready.ccall('tillwrap_samples_room', 'number', ['number'], [data.samples.length]) as number;
        ready.HEAPF64.set(data.samples, room / 8);
      }
      asked = data.id;
      const text = ready.ccall('tillwrap_ask', 'string', ['string'], [
        JSON.stringify({ ...data.question, id: data.id }),
      ]) as string;
      const { answer, error } = JSON.parse(text) as FromWorker;
      if (error) reply.error = error;
      else reply.answer = answer;
      if (data.want && !error) reply.numbers = numbers(ready, data.want);
    } catch (failure) {
      reply.error = { source: 'the engine', line: 0, column: 0, message: String(failure), hint: '' };
      // An aborted module answers nothing sound any more: the page replaces this worker.
      if (!(failure instanceof SyntaxError)) {
        self.postMessage({ ...reply, broken: true });
        return;
      }
    }
    if (reply.numbers) self.postMessage(reply, { transfer: [reply.numbers.buffer] });
    else self.postMessage(reply);
  };
}
