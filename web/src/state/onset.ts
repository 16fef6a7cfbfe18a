// On set: what happened so far, as facts, turned into the day that is left. Pure.
import type { Fact } from './db';
import { clockSeconds, clockText, copy, labels, tables, text, type DayJson, type Table } from './day';

export interface ChangeAhead {
  holder: string;
  place: string;
  out: string;
  in: string;
  in_waits: string; // where the fresh pack is
  planned_s: number;
  safe_s: number;
  likely_s: number;
  last_safe_s: number;
}

// Facts still standing, in the order they were so.
export function standing(facts: Fact[]): Fact[] {
  const gone = new Set(facts.filter((fact) => fact.kind === 'taken_back').map((fact) => String(fact.data.of)));
  return facts
    .filter((fact) => fact.kind !== 'taken_back' && !gone.has(fact.id))
    .sort((a, b) => (a.at < b.at ? -1 : a.at > b.at ? 1 : a.id < b.id ? -1 : 1));
}

// Seconds after midnight of the day that began last, on this device's clock; before `call_s` minus six hours it is still
// the night of the day before.
export function secondsIntoDay(at: Date, first_s: number): number {
  const clock_s = at.getHours() * 3600 + at.getMinutes() * 60 + at.getSeconds();
  return clock_s < first_s - 6 * 3600 ? clock_s + 86400 : clock_s;
}

const localSeconds = (iso: string): number => {
  const found = /T(\d{2}):(\d{2}):(\d{2})/.exec(iso);
  return found ? Number(found[1]) * 3600 + Number(found[2]) * 60 + Number(found[3]) : 0;
};

function shift(table: Table, key: string, minutes: number): void {
  const at_s = clockSeconds(text(table, key));
  if (at_s !== null) table[key] = clockText(at_s + 60 * minutes);
}

// Everything that begins after `from_s` comes `minutes` later: periods, wrap, off, planned changes.
export function slid(day: DayJson, from_s: number, minutes: number): DayJson {
  const out = copy(day);
  const first_s = clockSeconds(text(tables(out, 'period')[0] ?? {}, 'from')) ?? 0;
  const into = (written: string): number | null => {
    const at_s = clockSeconds(written);
    return at_s === null ? null : at_s < first_s ? at_s + 86400 : at_s;
  };
  const after = (table: Table, key: string) => {
    const at_s = into(text(table, key));
    if (at_s !== null && at_s > from_s) shift(table, key, minutes);
  };
  for (const period of tables(out, 'period')) {
    after(period, 'from');
    if (typeof period.no_hands === 'object' && period.no_hands !== null && !Array.isArray(period.no_hands)) {
      for (const [place, stretch] of Object.entries(period.no_hands)) {
        const found = /^\s*(\d{1,2}:\d{2})\s*[-–]\s*(\d{1,2}:\d{2})\s*$/.exec(String(stretch));
        if (!found) continue;
        const ends = [found[1]!, found[2]!].map((end) => {
          const at_s = into(end);
          return at_s !== null && at_s > from_s ? clockText(clockSeconds(end)! + 60 * minutes) : end;
        });
        (period.no_hands as Table)[place] = ends.join('-');
      }
    }
  }
  const head = out.day as Table;
  after(head, 'wrap');
  after(head, 'off');
  for (const holder of tables(out, 'holder')) {
    if (!Array.isArray(holder.packs)) continue;
    for (const slot of holder.packs)
      if (typeof slot === 'object' && slot !== null && !Array.isArray(slot)) after(slot as Table, 'at');
  }
  for (const charger of tables(out, 'charger')) {
    if (!Array.isArray(charger.bays)) continue;
    for (const bay of charger.bays)
      if (Array.isArray(bay))
        for (const slot of bay)
          if (typeof slot === 'object' && slot !== null && !Array.isArray(slot)) {
            after(slot as Table, 'from');
            after(slot as Table, 'until');
          }
  }
  return out;
}

// A pack changed at a known time: it goes in then, what was planned for it before is dropped, later ones stay planned.
export function changed(day: DayJson, holder: string, pack: string, at_s: number): DayJson {
  const out = copy(day);
  for (const table of tables(out, 'holder')) {
    if (text(table, 'name') !== holder || !Array.isArray(table.packs)) continue;
    const label = (slot: unknown) => (typeof slot === 'string' ? slot : text(slot as Table, 'pack'));
    const written_s = (slot: unknown): number | null =>
      typeof slot === 'string' ? null : clockSeconds(text(slot as Table, 'at'));
    const slots = [...table.packs];
    // Those already in by then stay; of what is still planned, the pack's own next turn has come now.
    const before = slots.filter((slot, i) => i === 0 || (written_s(slot) ?? Infinity) < at_s);
    const after = slots.filter((slot) => !before.includes(slot) && (written_s(slot) ?? Infinity) > at_s);
    const turn = after.findIndex((slot) => label(slot) === pack);
    if (turn >= 0) after.splice(turn, 1);
    const there = before.length > 0 && label(before.at(-1)) === pack;
    table.packs = [...before, ...(there ? [] : [{ pack, at: clockText(at_s) }]), ...after] as Table[];
  }
  return out;
}

// The day as it stands after the facts.
export function asItStands(day: DayJson, facts: Fact[]): DayJson {
  let out = copy(day);
  for (const fact of standing(facts)) {
    const at_s = localSeconds(fact.at);
    if (fact.kind === 'changed') out = changed(out, String(fact.data.holder), String(fact.data.pack), at_s);
    if (fact.kind === 'late') out = slid(out, at_s, Number(fact.data.minutes));
    if (fact.kind === 'period') {
      const wanted = String(fact.data.period);
      const period = tables(out, 'period').find((candidate) => text(candidate, 'name') === wanted);
      const planned_s = period ? clockSeconds(text(period, 'from')) : null;
      if (planned_s !== null && planned_s !== at_s)
        out = slid(out, Math.min(planned_s, at_s) - 1, Math.round((at_s - planned_s) / 60));
    }
  }
  return out;
}

// Packs that could go into a holder now: those the day has, not in another holder at that moment.
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

// Can a take of so many minutes run from now: no pack ends, on a day in ten, before it is over.
export function canRoll(
  now_s: number,
  minutes: number,
  changes: ChangeAhead[],
  safe_to_s: number,
): { yes: boolean; spare_s: number; first: ChangeAhead | null } {
  const ahead = changes.filter((change) => change.planned_s > now_s - 60).sort((a, b) => a.safe_s - b.safe_s);
  const first = ahead[0] ?? null;
  const end_s = Math.min(safe_to_s, first ? first.safe_s : Infinity);
  return { yes: end_s >= now_s + 60 * minutes, spare_s: end_s - now_s - 60 * minutes, first };
}
