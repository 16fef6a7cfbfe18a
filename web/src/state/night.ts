// The night after the day: what is asked once, the question made of it, what to do when. Pure.
import type { RechargeReply } from '../engine/types';
import { clockSeconds, text, type DayJson, type Table } from './day';
import type { Standing } from './journal';

export interface Night {
  from: string; // clock time, or empty: off
  until: string; // clock time, or empty: the next call
  there: { from: string; until: string }[]; // somebody awake
  asleep: boolean;
  get_up: number;
  supply: 'wall' | 'vehicle' | 'generator';
  watts: string;
  left: Record<string, string>; // pack -> per cent, where somebody knows better
}

// A car's socket is fused for 10 A or so at 12 V: about 120 W (common practice).
export const kVehicle_w = 120;

export const kNight: Night = {
  from: '',
  until: '',
  there: [{ from: '20:30', until: '23:30' }, { from: '06:00', until: '06:30' }],
  asleep: false,
  get_up: 1,
  supply: 'wall',
  watts: '',
  left: {},
};

// What the day file says of its rest, else the usual.
export function nightOf(day: DayJson): Night {
  const rest = (day.rest ?? {}) as Table;
  const there = text(rest, 'there')
    .split(',')
    .flatMap((stretch) => {
      const ends = /^\s*(\d{1,2}:\d{2})\s*[-–]\s*(\d{1,2}:\d{2})\s*$/.exec(stretch);
      return ends ? [{ from: ends[1]!.padStart(5, '0'), until: ends[2]!.padStart(5, '0') }] : [];
    });
  const watts = /^\s*(\d+(?:\.\d+)?)/.exec(String(rest.watts ?? ''))?.[1] ?? '';
  return {
    ...structuredClone(kNight),
    from: text(rest, 'from'),
    until: text(rest, 'until'),
    ...(there.length > 0 ? { there } : {}),
    asleep: rest.asleep === true,
    get_up: typeof rest.get_up === 'number' ? rest.get_up : kNight.get_up,
    ...(watts ? { supply: 'generator' as const, watts } : {}),
  };
}

export type Stay = RechargeReply['stays'][number];

export type Wrong = Partial<Record<'from' | 'until' | 'there' | 'watts' | 'left', true>>;

const number = (typed: string): number => (typed.trim() === '' ? NaN : Number(typed.trim().replace(',', '.')));

// The question's fields, or which of them cannot be.
export function question(night: Night): { fields: Record<string, unknown>; wrong: Wrong } {
  const wrong: Wrong = {};
  const fields: Record<string, unknown> = { asleep: night.asleep };
  if (night.asleep) fields.get_up = night.get_up;
  for (const key of ['from', 'until'] as const) {
    if (night[key].trim() === '') continue;
    const at_s = clockSeconds(night[key]);
    if (at_s === null) wrong[key] = true;
    else fields[`${key}_s`] = at_s;
  }
  if (night.there.length === 0 || night.there.some(({ from, until }) => clockSeconds(from) === null || clockSeconds(until) === null || clockSeconds(from) === clockSeconds(until))) wrong.there = true;
  fields.there = night.there.map(({ from, until }) => `${from}-${until}`).join(', ');
  if (night.supply !== 'wall') {
    const watts = number(night.watts);
    if (!(watts > 0 && watts <= 100_000)) wrong.watts = true;
    fields.watts = watts;
  }
  const left = Object.entries(night.left).filter(([, typed]) => typed.trim() !== '');
  if (left.some(([, typed]) => !(number(typed) >= 0 && number(typed) <= 100))) wrong.left = true;
  fields.left = left.map(([pack, typed]) => ({ pack, charge: number(typed) / 100 }));
  return { fields, wrong };
}

export interface Moment {
  at_s: number;
  gets_up: boolean;
  out: Stay[];
  into: Stay[];
}

const kTogether_s = 30;

// What hands do, moment by moment; a pack that stays in until the end is taken out then.
export function moments(answer: Pick<RechargeReply, 'stays' | 'get_up_s'>): Moment[] {
  const found: Moment[] = [];
  const at = (s: number): Moment => {
    let moment = found.find((one) => Math.abs(one.at_s - s) < kTogether_s);
    if (!moment) found.push((moment = { at_s: s, gets_up: false, out: [], into: [] }));
    return moment;
  };
  for (const stay of answer.stays) {
    at(stay.in_s).into.push(stay);
    at(stay.out_s).out.push(stay);
  }
  for (const s of answer.get_up_s) at(s).gets_up = true;
  return found.sort((a, b) => a.at_s - b.at_s);
}

export interface BayOfNight {
  bay: number; // from 1
  bays: number; // more where what stands in it takes several
  stays: Stay[];
}

// Each charger with the bays that are used, in order, and how many it has.
export function byCharger(answer: Pick<RechargeReply, 'stays' | 'chargers'>): { name: string; of: number; used: BayOfNight[] }[] {
  return answer.chargers.map(({ name, bays }) => {
    const mine = answer.stays.filter((stay) => stay.charger === name).toSorted((a, b) => a.bay - b.bay || a.in_s - b.in_s);
    const used: BayOfNight[] = [];
    for (const stay of mine) {
      const last = used.at(-1);
      if (last?.bay === stay.bay) {
        last.stays.push(stay);
        last.bays = Math.max(last.bays, stay.bays);
      } else used.push({ bay: stay.bay, bays: stay.bays, stays: [stay] });
    }
    return { name, of: bays, used };
  });
}

// The line that says a pack was charged, of this night.
export function ticked(pack: string, standing: Standing[], day_id: string, since_ms: number): Standing | undefined {
  return standing.findLast(({ line, event }) => event.what === 'charged' && event.pack === pack && line.day_id === day_id && Date.parse(event.at) >= since_ms);
}
