// The journal's lines on this device (docs/formats.md, journal): one event a line, only ever added to. Pure.
// What a line means is the engine's matter; here only what the rooms need to pick and write lines.

export interface KeptLine {
  text: string; // the line; two texts are two lines, whatever their ids
  id: string;
  at: string; // RFC 3339
  day_id: string; // day it was noted on; '' when it came from elsewhere
  kept?: boolean; // a doubted reading that stays as it was read
}

export type Value = string | number;
export type Keys = Record<string, Value>;
export interface Event {
  id: string;
  at: string;
  by: string;
  what: string;
  [key: string]: unknown;
}

// One line as the command line writes it: the same keys in the same order.
export function composed(id: string, at: string, by: string, what: string, keys: Keys): string {
  return JSON.stringify({ v: 1, id, at, by, what, ...keys });
}

// What a line of every version has.
function placed(text: string): { id: string; at: string; [key: string]: unknown } | null {
  try {
    const line = JSON.parse(text) as Event;
    return typeof line === 'object' && line !== null && typeof line.id === 'string' && typeof line.at === 'string' ? line : null;
  } catch {
    return null;
  }
}

export function eventOf(text: string): Event | null {
  const line = placed(text);
  return line && typeof line.what === 'string' ? (line as Event) : null;
}

export function keptOf(text: string, day_id: string): KeptLine | null {
  const line = placed(text);
  return line ? { text, id: line.id, at: line.at, day_id } : null;
}

export interface Standing {
  line: KeptLine;
  event: Event;
}

// Those not taken back (a taking back may be taken back in its turn), in the order they were so.
export function standing(lines: KeptLine[]): Standing[] {
  const all = lines.flatMap((line) => {
    const event = eventOf(line.text);
    return event ? [{ line, event }] : [];
  });
  const backs = new Map<string, string[]>();
  for (const { event } of all)
    if (event.what === 'taken_back') backs.set(String(event.of), [...(backs.get(String(event.of)) ?? []), event.id]);
  const gone = (id: string, seen: string[]): boolean =>
    !seen.includes(id) && (backs.get(id) ?? []).some((back) => !gone(back, [...seen, id]));
  return all
    .filter(({ event }) => event.what !== 'taken_back' && !gone(event.id, []))
    .sort((a, b) => Date.parse(a.event.at) - Date.parse(b.event.at) || (a.event.id < b.event.id ? -1 : 1));
}

// A journal file's lines, blank ones left out.
export const linesOf = (text: string): string[] => text.split('\n').map((line) => line.replace(/\r$/, '')).filter((line) => line.trim() !== '');

// Of these lines the format versions past the one written here, each once.
export function laterVersions(texts: string[]): number[] {
  const versions = texts.map((text) => Number((JSON.parse(text) as { v?: unknown }).v)).filter((v) => v > 1);
  return [...new Set(versions)].sort((a, b) => a - b);
}

export const joined = (lines: KeptLine[]): string => lines.map((line) => line.text + '\n').join('');

// Of these lines those that are not here yet, each once.
export function fresh(texts: string[], here: KeptLine[]): string[] {
  const known = new Set(here.map((line) => line.text));
  return [...new Set(texts)].filter((text) => !known.has(text));
}

// What was kept before lines were: facts with their own words, as lines. A reading told no more than its point then;
// what it was of is not known, so it stays a line the engine keeps and does not weigh.
export interface OldFact {
  id: string;
  day_id: string;
  at: string;
  entered_at: string;
  kind: string;
  data: Record<string, Value>;
}
export function lineOfFact(fact: OldFact): KeptLine {
  const forms: Record<string, [string, Keys]> = {
    changed: ['put_in', { pack: fact.data.pack ?? '', holder: fact.data.holder ?? '' }],
    period: ['period', { name: fact.data.period ?? '' }],
    late: ['late', { minutes: fact.data.minutes ?? 0 }],
    taken_back: ['taken_back', { of: fact.data.of ?? '' }],
    reading: ['reading_unplaced', { point: fact.data.point ?? '', value: fact.data.value ?? 0 }],
  };
  const [what, keys] = forms[fact.kind] ?? [fact.kind, fact.data];
  return { text: composed(fact.id, fact.at, 'page', what, keys), id: fact.id, at: fact.at, day_id: fact.day_id };
}
