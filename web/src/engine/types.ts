// What crosses the door (docs/door.md). Times are seconds after midnight of the day's first date.

export interface Where {
  from: number;
  pairs: number;
}

export interface Stint {
  pack: string;
  index: number;
  in_s: number;
  out_s: number;
  start_charge: number;
  end_charge: number;
  full_wh: number;
  left_wh: number;
  comes_back: boolean;
  wedge: Where;
}

export interface StripColumn {
  holder: string;
  index: number;
  place: string;
  kind: 'holder' | 'built-in' | 'bay';
  closed: { from_s: number; until_s: number }[];
  fails: boolean;
  stints: Stint[];
}

export interface StripPeriod {
  name: string;
  from_s: number;
  until_s: number;
  air_c: number;
}

export interface StripData {
  start_s: number;
  end_s: number;
  call_s: number;
  wrap_s: number;
  off_s: number;
  overrun_s: number;
  safe_s: number;
  likely_s: number;
  periods: StripPeriod[];
  columns: StripColumn[];
  volts: {
    device: string;
    cutoff_v: number;
    lowest_v: number;
    highest_v: number;
    pieces: Where[];
  } | null;
}

export interface LossCase {
  pack: string;
  survives: boolean;
  margin_s: number;
  loss: Loss | null;
}

export interface Loss {
  device: string;
  at_s: number;
  at: string;
  cause: string;
  reason: string;
}

export interface OddsSummary {
  days: number;
  seed: number;
  probability: number;
  probability_with_overrun: number;
  margin_s: { p10: number; p50: number; p90: number };
  drivers: { name: string; share: number }[];
}

export interface ForecastAnswer {
  title: string;
  verdict: string;
  reaches_wrap: boolean;
  margin_s: number;
  margin_is_least: boolean;
  call_s: number;
  wrap_s: number;
  off_s: number;
  safe_to_s: number;
  likely_s: number;
  one_loss: { holds: boolean; sentence: string; worst: LossCase | null; cases: LossCase[] };
  first_loss: Loss | null;
  changes: { holder: string; out: string; in: string; at_s: number; at: string }[];
  packs: {
    label: string;
    holder: string;
    in_s: number;
    out_s: number;
    start_charge: number;
    end_charge: number;
    delivered_wh: number;
    coldest_c: number;
    lowest_v: number | null;
  }[];
  devices: { name: string; energy_wh: number; lowest_v: number | null; lowest_at_s: number | null; off_s: number }[];
  odds: OddsSummary | null;
  warnings: { line: number; column: number; text: string }[];
}

export interface ForecastReply {
  forecast: ForecastAnswer;
  strip?: StripData;
}

export interface DoorError {
  source: string;
  line: number;
  column: number;
  message: string;
  hint: string;
}

// Between the page and its worker.
export interface ToWorker {
  id: number;
  question: Record<string, unknown>;
  samples?: Float64Array; // put in before the question is asked
  want?: 'curves' | 'samples';
}

export interface FromWorker {
  id: number;
  answer?: unknown;
  error?: DoorError;
  numbers?: Float64Array;
}
