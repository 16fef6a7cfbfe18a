// Days in a row, as the engine is asked about them: each under its name, the night between as it was asked about. Pure.
import type { DoorError } from '../engine/types';
import { pathAtLine, written, type DayJson, type Table } from './day';
import type { Next, SavedDay } from './db';
import type { Night } from './night';

export const kMostDays = 60;
const kRun = 'the run'; // what the engine calls it in complaints

// The same day once more, until somebody says otherwise.
export const rowOf = (saved: SavedDay): Next[] => saved.row ?? [{ day: saved.id, charged: true }];

export interface DayOfRow {
  id: string;
  name: string;
  day: DayJson;
  night: Night; // after it
  charged: boolean; // in that night
}

export interface RunAsked extends Record<string, unknown> {
  run: string;
  days: { file: string; day: string }[];
  choose: boolean;
  lines?: string; // of the journal: begun with the packs as it has them
}

// What the night's form says goes before what the day file says of its rest.
function rest({ day, night, charged }: DayOfRow): Table {
  if (!charged) return { charging: false };
  return {
    ...((day.rest ?? {}) as Table),
    ...(night.from.trim() ? { from: night.from.trim() } : {}),
    ...(night.until.trim() ? { until: night.until.trim() } : {}),
    there: night.there.map(({ from, until }) => `${from}-${until}`).join(', '),
    asleep: night.asleep,
    ...(night.asleep ? { get_up: night.get_up } : {}),
    ...(night.supply === 'wall' ? {} : { watts: `${night.watts.trim().replace(',', '.')} W` }),
  };
}

// In messages a day goes by its name, so that two of one name are told apart.
function names(row: DayOfRow[]): Map<string, string> {
  const found = new Map<string, string>();
  for (const { id, name } of row) {
    if (found.has(id)) continue;
    const taken = new Set([kRun, ...found.values()]);
    const wanted = name.trim() || 'day';
    let free = wanted;
    for (let n = 2; taken.has(free); ++n) free = `${wanted} (${n})`;
    found.set(id, free);
  }
  return found;
}

export function runOf(row: DayOfRow[], choose: boolean, lines: string | null = null): RunAsked {
  const called = names(row);
  const file = ({ id }: DayOfRow): string => called.get(id)!;
  const last = row.length - 1;
  const days = new Map(row.map((one) => [file(one), written(one.day)]));
  return {
    run: written({ format: 1, day: row.map((one, i) => ({ file: file(one), ...(i < last ? { rest: rest(one) } : {}) })) }),
    days: [...days].map(([name, day]) => ({ file: name, day })),
    choose,
    ...(lines === null ? {} : { lines }),
  };
}

// Which day of the row a complaint is about, counted from 0.
export function blamed(asked: RunAsked, { source, line }: DoorError): number | null {
  const run = JSON.parse(asked.run) as { day: { file: string }[] } & Table;
  if (source === kRun) {
    const at = pathAtLine(run, line);
    return at?.[0] === 'day' && typeof at[1] === 'number' ? at[1] : null;
  }
  const found = run.day.findIndex(({ file }) => file === source);
  return found < 0 ? null : found;
}
