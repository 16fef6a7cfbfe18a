// What crosses the door (docs/door.md). Times are seconds after midnight of the day's first date.
import type { Forecast } from './answers/forecast';

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

// By the schemas of the repository: src/engine/answers, made by `npm run answers`.
export type ForecastAnswer = Forecast;
export type OddsSummary = NonNullable<Forecast['odds']>;

export interface ForecastReply {
  forecast: ForecastAnswer;
  strip?: StripData;
}

export interface ChangeAhead {
  holder: string;
  place: string;
  out: string;
  in: string;
  in_waits: string; // where the fresh pack is
  planned_s: number;
  safe_s: number;
  likely_s: number;
  last_safe_s: number | null; // null: hands do not reach it while the pack in use is safe
}

export interface StandsReply {
  forecast: ForecastAnswer;
  strip: StripData;
  changes: ChangeAhead[];
  late_s: number;
  notes: string[];
}

export interface TrackedReading {
  id: string;
  at_s: number;
  point: string;
  of: string;
  value: number;
  doubted: boolean;
  slipped: number | null; // with its decimal point elsewhere
  fits: string | null; // the other thing of its kind
  reason: string;
}

export interface TrackReply {
  at_s: number;
  off_s: number;
  probability: number;
  safe_s: number;
  likely_s: number;
  ahead_s: number;
  hands_safe_s: number;
  hands_likely_s: number;
  late_s: number;
  warning: string;
  settled: boolean;
  changes: ChangeAhead[]; // of each holder the next, by the readings
  readings: TrackedReading[];
  notes: string[];
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
