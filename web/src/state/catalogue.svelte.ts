// The catalogue's lists as the page needs them, read once from the engine.
import { app } from './app.svelte';

interface Input {
  name: string;
  plug: string;
  most_v?: number;
}
export interface Entry {
  id: string;
  title: string;
  note?: string;
  values: {
    family?: string;
    mode?: { name?: string; draw_w?: number[]; draw_a?: number[] }[];
    input?: Input[];
    holders?: string[];
    series?: number;
    rated_wh?: number;
    mass_kg?: number;
    regulator?: unknown;
    fits?: string[];
    plug?: string;
    taps?: string[];
    inputs?: string[];
    bays?: number;
    open_v?: number[];
    awg?: number;
    area_mm2?: number;
    output?: { name: string; plug: string; regulator?: unknown; always_on?: boolean }[];
  };
}
export type List = 'devices' | 'packs' | 'holders' | 'boxes' | 'sources' | 'chargers' | 'connectors' | 'wires' | 'fuses' | 'meters';
export type Find = (list: List, id: string) => Entry | undefined;

class Catalogue {
  lists = $state.raw<Partial<Record<List, Entry[]>>>({});
  private asked = new Set<List>();

  async need(...names: List[]): Promise<void> {
    for (const name of names) {
      if (this.asked.has(name)) continue;
      this.asked.add(name);
      const { entries } = await app.engine.ask<{ entries: Entry[] }>('catalogue', { what: name });
      this.lists = { ...this.lists, [name]: entries };
    }
  }

  of = (name: List): Entry[] => this.lists[name] ?? [];
  find = (name: List, id: string): Entry | undefined => this.of(name).find((entry) => entry.id === id);
}

export const catalogue = new Catalogue();

// Usual draw in words: "8.2 W".
export function usualDraw(entry: Entry): string {
  const mode = entry.values.mode?.[0];
  const middle = (range: number[] | number | undefined) => (Array.isArray(range) ? range[1] : range);
  const watts = middle(mode?.draw_w);
  const amps = middle(mode?.draw_a);
  return watts !== undefined ? `${watts} W` : amps !== undefined ? `${amps} A` : '';
}
