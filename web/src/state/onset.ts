// On set: which of the journal's lines are of the day, what can be noted, what is still ahead. Pure; the day as it stands
// and what the readings say of it are the engine's answers.
import type { ChangeAhead, StripData, TrackedReading } from '../engine/types';
import { clockSeconds, labels, tables, text, type DayJson, type Table } from './day';
import type { Find } from './entry';
import { standing, type KeptLine, type Keys, type Standing } from './journal';

const kNight_s = 6 * 3600;
const kAfter_s = 12 * 3600;

export const firstSeconds = (day: DayJson): number => clockSeconds(text(tables(day, 'period')[0] ?? {}, 'from')) ?? 0;

// Off, or wrap, as written; after midnight where it lies before the first period.
export function lastSeconds(day: DayJson): number {
  const head = (day.day ?? {}) as Table;
  const at_s = clockSeconds(text(head, 'off')) ?? clockSeconds(text(head, 'wrap')) ?? 0;
  return at_s < firstSeconds(day) ? at_s + 86400 : at_s;
}

// The midnight the day's seconds count from, on this device's clock: of its date; without one, of the day that began
// last, until six hours before the first period it is still the night of the day before.
export function midnight(day: DayJson, now: Date): Date {
  const date = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text((day.day ?? {}) as Table, 'date'));
  if (date) return new Date(Number(date[1]), Number(date[2]) - 1, Number(date[3]));
  const out = new Date(now.getFullYear(), now.getMonth(), now.getDate());
  const clock_s = now.getHours() * 3600 + now.getMinutes() * 60 + now.getSeconds();
  if (clock_s < firstSeconds(day) - kNight_s) out.setDate(out.getDate() - 1);
  return out;
}

// Seconds after that midnight, by the clock on the wall.
export function secondsIntoDay(day: DayJson, now: Date): number {
  const from = midnight(day, now);
  const days = Math.round((new Date(now.getFullYear(), now.getMonth(), now.getDate()).getTime() - from.getTime()) / 86_400_000);
  return days * 86400 + now.getHours() * 3600 + now.getMinutes() * 60 + now.getSeconds();
}

const ofTheSet = new Set(['put_in', 'taken_out', 'reading', 'period', 'late', 'reading_unplaced']);

const namesOf = (day: DayJson): Set<string> =>
  new Set([
    ...tables(day, 'pack').flatMap(labels),
    ...['holder', 'device', 'source', 'box', 'period'].flatMap((kind) => tables(day, kind).map((table) => text(table, 'name'))),
  ]);

// Dates on which things of the day were read, the latest first, by each line's own clock: of a dated day its own; of one
// without, those of lines noted on it or come from elsewhere.
export function datesRead(lines: KeptLine[], day: DayJson, day_id: string): string[] {
  const names = namesOf(day);
  const date = text((day.day ?? {}) as Table, 'date');
  const found = standing(lines)
    .filter(({ line, event }) => event.what === 'reading' && names.has(String(event.of)) && (date !== '' || line.day_id === day_id || line.day_id === ''))
    .map(({ event }) => event.at.slice(0, 10));
  return [...new Set(found)].filter((one) => date === '' || one === date).sort().reverse();
}

// Lines of the day that move it: noted on it or come from elsewhere, between its first period and half a day after its
// end, of things it has.
export function ofTheDay(lines: KeptLine[], day: DayJson, day_id: string, now: Date): Standing[] {
  const zero = midnight(day, now).getTime();
  const from = zero + 1000 * firstSeconds(day);
  const until = zero + 1000 * (lastSeconds(day) + kAfter_s);
  const names = namesOf(day);
  const known = (value: unknown) => value === undefined || names.has(String(value));
  return standing(lines).filter(({ line, event }) => {
    const at = Date.parse(event.at);
    return (
      ofTheSet.has(event.what) &&
      (line.day_id === day_id || line.day_id === '') &&
      at >= from &&
      at < until &&
      (line.day_id === day_id || (known(event.pack) && known(event.holder) && known(event.of) && known(event.name)))
    );
  });
}

// Packs that could go into a holder now: those listed for it and others of their kinds.
export function candidates(day: DayJson, holder: string): string[] {
  const table = tables(day, 'holder').find((candidate) => text(candidate, 'name') === holder);
  const listed = Array.isArray(table?.packs)
    ? table.packs.map((slot) => (typeof slot === 'string' ? slot : text(slot as Table, 'pack')))
    : [];
  const kinds = new Set(
    tables(day, 'pack')
      .filter((pack) => labels(pack).some((label) => listed.includes(label)))
      .map((pack) => text(pack, 'kind')),
  );
  const all = tables(day, 'pack')
    .filter((pack) => kinds.has(text(pack, 'kind')))
    .flatMap(labels);
  return [...new Set([...listed, ...all])];
}

// What is in a holder at that moment, by the day as it stands.
export const packIn = (strip: StripData | null, holder: string, at_s: number): string | undefined =>
  strip?.columns.find((column) => column.holder === holder)?.stints.find((stint) => stint.in_s <= at_s && at_s < stint.out_s)?.pack;

export type Point = 'input volts' | 'gauge' | 'amps' | 'meter';
export const points: Point[] = ['input volts', 'gauge', 'amps', 'meter'];
// What may be typed, in the unit it is shown in: V, %, A.
export const limits: Record<Point, [number, number]> = { 'input volts': [0, 100], gauge: [0, 100], amps: [-200, 200], meter: [0, 100] };

// What a reading can be of; what is most likely meant comes first. Packs without a gauge are left out where the
// catalogue knows any with one.
export function readable(point: Point, day: DayJson, strip: StripData | null, now_s: number, find: Find): string[] {
  const columns = (strip?.columns ?? []).filter((column) => column.kind === 'holder');
  if (point === 'gauge') {
    const inNow = columns.flatMap((column) => column.stints.filter((stint) => stint.in_s <= now_s && now_s < stint.out_s).map((stint) => stint.pack));
    const all = [...new Set([...inNow, ...columns.flatMap((column) => column.stints.map((stint) => stint.pack))])];
    const withGauge = new Set(tables(day, 'pack').filter((pack) => find('packs', text(pack, 'kind'))?.values.has_gauge).flatMap(labels));
    const gauges = all.filter((label) => withGauge.has(label));
    return gauges.length > 0 ? gauges : all;
  }
  if (point === 'amps') return columns.map((column) => column.holder);
  const devices = tables(day, 'device').map((device) => text(device, 'name'));
  const first = strip?.volts?.device;
  return first && devices.includes(first) ? [first, ...devices.filter((name) => name !== first)] : devices;
}

const signs: Record<Point, RegExp> = { 'input volts': /\s*v$/i, gauge: /\s*%$/, amps: /\s*a$/i, meter: /\s*%$/ };

// "14,5" or "14,5 V" -> 14.5 V; "64" -> 0.64 of a gauge or a device's own meter; nothing when it cannot be.
export function typedValue(point: Point, typed: string): number | null {
  const bare = typed.trim().replace(signs[point], '');
  const value = Number(bare.replace(',', '.').replace('−', '-'));
  const [least, most] = limits[point];
  if (bare === '' || !(value >= least && value <= most)) return null;
  return point === 'gauge' || point === 'meter' ? value / 100 : value;
}

// The reading that was meant, when the engine knows: the point elsewhere, or of the other thing.
export function meant(reading: TrackedReading): Keys | null {
  if (reading.slipped !== null) return { point: reading.point, of: reading.of, value: reading.slipped };
  if (reading.fits !== null) return { point: reading.point, of: reading.fits, value: reading.value };
  return null;
}

// Whether hands reach it while the pack in use is safe and the plan does not come more than a minute later.
export const inTime = (change: ChangeAhead): boolean => change.last_safe_s !== null && change.last_safe_s >= change.planned_s - 60;

// Changes still to come that the day needs to last to off, the most pressing first; those for after off are the strip's to show.
export const ahead = (changes: ChangeAhead[], now_s: number, off_s: number): ChangeAhead[] =>
  changes
    .filter((change) => change.planned_s > now_s - 300 && (change.planned_s < off_s || change.safe_s < off_s))
    .sort((a, b) => (a.last_safe_s ?? a.safe_s) - (b.last_safe_s ?? b.safe_s));

// What the engine tells of lines it keeps and does not weigh; here no line has a number.
export const unnumbered = (note: string): string => note.replace(/^line \d+: ./, (found) => found.slice(-1).toUpperCase());

// All of them once, those that are due in front and in the order they are due.
export const dueFirst = (all: string[], due: string[]): string[] => [...new Set([...due.filter((one) => all.includes(one)), ...all])];
