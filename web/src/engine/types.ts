// What crosses the door (docs/door.md). Times are seconds after midnight of the day's first date.
import type { Forecast } from './answers/forecast';
import type { Health } from './answers/health';
import type { Kit } from './answers/kit';
import type { Recharge } from './answers/recharge';
import type { Track } from './answers/track';

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
  stated_s: number;
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

export type RechargeReply = Recharge & { drawing: string; calendar: string | null };
// Of a day: what is to be said of the pack asked about; keys of the lines that keep what it told.
export type HealthReply = Health & { text: string; about: string; to_keep: { at: string; keys: Record<string, string> }[] };

export interface JournalReply {
  kit: Kit;
  lines: { text: string; id: string; at: string; words: string; understood: boolean; taken_back: boolean }[];
  bad: { line: number; message: string; hint: string }[];
  clocks: { id: string; text: string }[];
}

export interface ForecastReply {
  forecast: ForecastAnswer;
  strip?: StripData;
}

export type ChangeAhead = Track['changes'][number];
export type TrackedReading = Track['readings'][number];

export interface StandsReply {
  forecast: ForecastAnswer;
  strip: StripData;
  changes: ChangeAhead[];
  late_s: number;
  notes: string[];
}

// One share of one step, its numbers beside it; `track` once all steps are known.
export interface TrackShareReply {
  last: boolean;
  track?: Track;
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

// How far a slow question is: pieces of the part under way, parts as the engine calls them.
export interface Told {
  part: string;
  done: number;
  pieces: number;
}

export interface FromWorker {
  id: number;
  told?: Told; // more is to come
  found?: string; // likewise: what of the answer is known already, as JSON
  answer?: unknown;
  error?: DoorError;
  numbers?: Float64Array;
}
