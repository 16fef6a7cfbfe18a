// Over the years: the engine's answers about the journal, and what a fact takes to be written. Pure.
import type { Band, Course } from '../engine/answers/kit';
import type { HealthReply } from '../engine/types';
import type { Keys } from './journal';

// Which keys each fact takes, the needed ones first; `label` is the word on the page where it is another.
export interface Asks {
  key: string;
  label?: string;
  needed?: boolean;
}
export const forms: Record<string, Asks[]> = {
  acquired: [{ key: 'pack', needed: true }, { key: 'kind', needed: true }, { key: 'bought' }, { key: 'health' }, { key: 'price' }],
  charged: [{ key: 'pack', needed: true }, { key: 'charge', needed: true }, { key: 'charger' }],
  rested: [{ key: 'pack', needed: true }, { key: 'place', needed: true }, { key: 'temperature' }],
  used: [{ key: 'pack', needed: true }, { key: 'ah', needed: true }, { key: 'charge', label: 'left' }],
  retired: [{ key: 'pack', needed: true }, { key: 'reason' }],
};

export function typedKeys(what: string, typed: Record<string, string>): Record<string, string> {
  return Object.fromEntries((forms[what] ?? []).flatMap(({ key }) => (typed[key]?.trim() ? [[key, typed[key].trim()]] : [])));
}

// Half of a band of nine in ten in standard deviations: the normal quantile of 95 %.
const kBand = 1.6448536269514722;
const rounded = (value: number) => Math.round(1e4 * value) / 1e4;
const sd = (band: Band) => rounded((band.high - band.low) / (2 * kBand));

// A log's finding as a `tested` line says it; nothing when the log cannot tell.
export function tested(pack: string, { log }: HealthReply): Keys | null {
  if (!log?.plausible || !log.capacity_told) return null;
  return {
    pack,
    capacity: rounded(log.capacity.middle),
    resistance: rounded(log.resistance.middle),
    capacity_sd: sd(log.capacity),
    resistance_sd: sd(log.resistance),
    log: log.name,
  };
}

// A course in a picture `width` by `height` with margins for its words.
export interface Drawn {
  band: string; // polygon points
  line: string; // polyline points
  results: { x: number; y: number; low: number; high: number }[];
  years: { x: number; words: string }[];
  levels: { y: number; value: number }[];
  now_x: number | null;
  limit_y: number | null;
}

export function drawn(course: Course, today: string, limit: number | null, width: number, height: number): Drawn {
  const [left, right, top, bottom] = [44, 8, 8, 22];
  const day = (iso: string) => Date.parse(`${iso}T12:00:00Z`);
  const all = [...course.trend, ...course.results];
  const from = Math.min(...all.map((point) => day(point.at)));
  const until = Math.max(...all.map((point) => day(point.at)), from + 86_400_000);
  const values = [...course.trend.map((p) => p.low), ...course.trend.map((p) => p.high), ...course.results.map((p) => p.middle), ...(limit === null ? [] : [limit])];
  const step = Math.max(...values) - Math.min(...values) > 1.2 ? 0.5 : Math.max(...values) - Math.min(...values) > 0.5 ? 0.2 : 0.1;
  const least = Math.max(0, Math.floor(Math.min(...values) / step + 1e-9) * step);
  const most = Math.ceil(Math.max(...values) / step - 1e-9) * step;
  const x = (iso: string) => left + ((width - left - right) * (day(iso) - from)) / (until - from);
  const y = (value: number) => top + (height - top - bottom) * (1 - (Math.min(most, Math.max(least, value)) - least) / (most - least));
  const point = (iso: string, value: number) => `${x(iso).toFixed(1)},${y(value).toFixed(1)}`;
  const years: Drawn['years'] = [];
  const span = (until - from) / (365.25 * 86_400_000);
  const every = span > 8 ? 2 : 1;
  for (let year = new Date(from).getUTCFullYear() + 1; day(`${year}-01-01`) <= until; year += every) years.push({ x: x(`${year}-01-01`), words: String(year) });
  const levels: Drawn['levels'] = [];
  for (let k = 0; least + k * step <= most + 1e-9; ++k) levels.push({ y: y(least + k * step), value: least + k * step });
  return {
    band: [...course.trend.map((p) => point(p.at, p.high)), ...course.trend.toReversed().map((p) => point(p.at, p.low))].join(' '),
    line: course.trend.map((p) => point(p.at, p.middle)).join(' '),
    results: course.results.map((p) => ({ x: x(p.at), y: y(p.middle), low: y(p.low), high: y(p.high) })),
    years,
    levels,
    now_x: day(today) >= from && day(today) <= until ? x(today) : null,
    limit_y: limit === null ? null : y(limit),
  };
}
