// Entries of the catalogue, as far as the page reads them. Pure; the lists are in catalogue.svelte.ts.
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
    has_gauge?: boolean;
    mass_kg?: number;
    regulator?: unknown;
    fits?: string[];
    plug?: string;
    taps?: string[];
    inputs?: string[];
    bays?: number;
    idle_w?: number[] | number;
    open_v?: number[];
    awg?: number;
    area_mm2?: number;
    output?: { name: string; plug: string; regulator?: unknown; always_on?: boolean }[];
  };
}
export type List = 'devices' | 'packs' | 'holders' | 'boxes' | 'sources' | 'chargers' | 'connectors' | 'wires' | 'fuses' | 'meters';
export type Find = (list: List, id: string) => Entry | undefined;

// Usual draw in words: "8.2 W"; of a box what it takes for itself.
export function usualDraw(entry: Entry): string {
  const mode = entry.values.mode?.[0];
  const middle = (range: number[] | number | undefined) => (Array.isArray(range) ? range[1] : range);
  const watts = middle(mode?.draw_w) ?? middle(entry.values.idle_w);
  const amps = middle(mode?.draw_a);
  return watts !== undefined ? `${watts} W` : amps !== undefined ? `${amps} A` : '';
}
