// What the page holds: the current day, its history, the engine's answer. Saved before shown.
import demoText from '$examples/saltmarsh-ferry.toml?raw';
import { Engine, EngineError } from '../engine/engine';
import type { DoorError, ForecastAnswer, OddsSummary, StripData } from '../engine/types';
import { unitsOf, type Units } from '../lib/format';
import { en } from '../text/en';
import { copy, pathAtLine, written, type DayJson, type Path, type Table } from './day';
import { exported, freshId, imported, sameVersion, settings, stepOf, withRow, zoned, kSettings, type Next, type SavedDay, type Settings, type Step } from './db';
import { Disk } from './disk';
import { composed, fresh, keptOf, type KeptLine, type Keys } from './journal';
import { memoryStore } from './memory';
import { Newest } from './newest';
import { alone, Tabs } from './tabs';

export const kDemoId = 'demo';
const kMostSteps = 60;
const kSecondTry_ms = 300;
const kLongestWait_ms = 60_000;

export interface Fault {
  detail: DoorError;
  path: Path | null;
}

async function done(write: () => Promise<unknown>): Promise<boolean> {
  try {
    await write();
    return true;
  } catch (error) {
    console.warn('storage:', error);
    return false;
  }
}

class App {
  ready = $state(false);
  notice = $state('');
  saved = $state<SavedDay | null>(null);
  day = $state.raw<DayJson>({ format: 1 });
  days = $state<{ id: string; name: string; changed_at: string }[]>([]);
  lines = $state.raw<KeptLine[]>([]); // the whole journal on this device
  settings = $state<Settings>({ ...kSettings });
  forecast = $state.raw<ForecastAnswer | null>(null);
  strip = $state.raw<StripData | null>(null);
  curves = $state.raw<Float64Array>(new Float64Array());
  odds = $state.raw<OddsSummary | null>(null);
  fault = $state.raw<Fault | null>(null);
  trial = $state(false); // the strip shows a what-if that is not kept
  computing = $state(0);
  units = $derived<Units>(unitsOf(this.day));

  engine = new Engine(undefined, () => {
    this.notice = 'engine_replaced';
  });
  private disk = new Disk();
  private tabs = new Tabs((days, lines) => void this.heard(days, lines));
  private lasting = true;
  private unsaved = new Map<string, SavedDay>();
  private unsavedLines: KeptLine[] = [];
  // The day that was asked about last; a full answer about another comes too late.
  private current = '';
  private fast = new Newest<{ day: Table; text: string; quick: boolean }>((of) => this.answer(of), (busy) => (this.computing += busy ? 1 : -1));
  private full = new Newest<string>((text) => this.complete(text), (busy) => (this.computing += busy ? 1 : -1));

  async start(): Promise<void> {
    try {
      this.settings = await this.disk.use(settings);
    } catch {
      // No storage at all (a private window, say): it works, and says that nothing lasts.
      const memory = memoryStore();
      this.disk = new Disk(async () => memory);
      this.lasting = false;
      this.notice = 'storage';
      this.settings = await this.disk.use(settings);
    }
    if (!this.settings.device) await this.set('device', `page-${crypto.getRandomValues(new Uint16Array(1))[0]!.toString(16).padStart(4, '0')}`);
    this.lines = await this.disk.use((db) => db.getAll('lines'));
    if (!(await this.disk.use((db) => db.get('days', kDemoId)))) {
      const { day } = await this.engine.ask<{ day: DayJson }>('as_json', { day: demoText, name: 'the demo day' });
      await this.save({
        id: kDemoId,
        name: String(day.title ?? ''),
        day: written(day),
        undo: [],
        redo: [],
        changed_at: zoned(new Date()),
      });
    }
    await this.list();
    await this.openDay(this.settings.current ?? kDemoId);
    this.ready = true;
    if (this.lasting) this.tabs.listen();
    void this.askToKeep();
  }

  private async askToKeep(): Promise<void> {
    if (navigator.storage?.persist && !(await navigator.storage.persisted())) await navigator.storage.persist();
  }

  async set<Key extends keyof Settings>(key: Key, value: Settings[Key]): Promise<void> {
    this.settings[key] = value;
    await this.store(() => this.disk.use((db) => db.put('settings', $state.snapshot(value), key)));
  }

  async list(): Promise<void> {
    const days = new Map((await this.disk.use((db) => db.getAll('days'))).map((day) => [day.id, day]));
    for (const [id, day] of this.unsaved) days.set(id, day);
    this.days = [...days.values()].map(({ id, name, changed_at }) => ({ id, name, changed_at }));
  }

  private async stored(id: string): Promise<SavedDay | undefined> {
    return this.unsaved.get(id) ?? (await this.disk.use((db) => db.get('days', id)));
  }

  // Those that are here, in the order asked for.
  async saves(ids: string[]): Promise<SavedDay[]> {
    const found = await Promise.all(ids.map((id) => this.stored(id)));
    return found.filter((saved) => saved !== undefined);
  }

  async openDay(id: string): Promise<void> {
    const saved = (await this.stored(id)) ?? (await this.stored(kDemoId));
    if (!saved) return;
    await this.set('current', saved.id);
    if (this.saved?.id !== saved.id) {
      // Another day's answer must not stand under this one's name.
      this.forecast = null;
      this.strip = null;
    }
    this.saved = saved;
    this.show(JSON.parse(saved.day) as DayJson);
  }

  async newDay(day: DayJson, name: string): Promise<void> {
    const saved: SavedDay = { id: freshId(), name, day: written(day), undo: [], redo: [], changed_at: zoned(new Date()) };
    await this.save(saved);
    await this.list();
    await this.openDay(saved.id);
  }

  async removeDay(id: string): Promise<void> {
    this.unsaved.delete(id);
    await this.disk.use((db) => db.delete('days', id));
    this.tabs.tell([id], false);
    await this.list();
    if (this.saved?.id === id) await this.openDay(this.days[0]?.id ?? kDemoId);
  }

  // What another tab has kept: shown here too.
  private async heard(days: string[], lines: boolean): Promise<void> {
    if (lines) this.lines = [...(await this.disk.use((db) => db.getAll('lines'))), ...this.unsavedLines];
    if (days.length > 0) await this.list();
    if (this.saved && days.includes(this.saved.id)) await this.catchUp();
  }

  // An edit goes on top of what another tab has made of the day, never over it.
  private async catchUp(): Promise<void> {
    const here = this.saved;
    if (!here) return;
    const there = await this.stored(here.id).catch(() => undefined);
    if (!there || this.saved !== here || sameVersion(there, here)) return;
    this.saved = there;
    if (there.day !== here.day) this.show(JSON.parse(there.day) as DayJson);
  }

  // Edits in their order, each on what the one before it made, in whichever tab.
  private turn: Promise<void> = Promise.resolve();
  private inTurn(work: () => Promise<void>): Promise<void> {
    const done = this.turn.then(() =>
      alone(async () => {
        await this.catchUp();
        await work();
      }),
    );
    this.turn = done.catch(() => {});
    return done;
  }

  // One edit, with its name for the undo button.
  edit(what: string, change: (day: DayJson) => void): Promise<void> {
    return this.inTurn(async () => {
      const day = copy(this.day);
      change(day);
      await this.keep(what, day);
    });
  }

  // The days that follow this one, one edit as well.
  follow(what: string, row: Next[]): Promise<void> {
    return this.inTurn(() => this.keep(what, this.day, row));
  }

  private async keep(what: string, day: DayJson, row = $state.snapshot(this.saved)!.row): Promise<void> {
    const saved = $state.snapshot(this.saved)!;
    const undo: Step[] = [...saved.undo, stepOf(what, saved)].slice(-kMostSteps);
    const next = withRow({ ...saved, day: written(day), name: String(day.title ?? saved.name), undo, redo: [], changed_at: zoned(new Date()) }, row);
    if (next.day === saved.day && JSON.stringify(next.row) === JSON.stringify(saved.row)) return;
    await this.takeOver(next);
    await this.list();
  }

  private async takeOver(next: SavedDay): Promise<void> {
    const same = next.day === this.saved?.day;
    await this.save(next);
    this.saved = next;
    if (!same) this.show(JSON.parse(next.day) as DayJson);
  }

  undo(): Promise<void> {
    return this.inTurn(() => this.travel('undo', 'redo'));
  }

  redo(): Promise<void> {
    return this.inTurn(() => this.travel('redo', 'undo'));
  }

  private async travel(from: 'undo' | 'redo', to: 'undo' | 'redo'): Promise<void> {
    const saved = $state.snapshot(this.saved)!;
    const step = saved[from].at(-1);
    if (!step) return;
    const next: SavedDay = {
      ...saved,
      name: String((JSON.parse(step.day) as DayJson).title ?? saved.name),
      day: step.day,
      [from]: saved[from].slice(0, -1),
      [to]: [...saved[to], stepOf(step.what, saved)],
      changed_at: zoned(new Date()),
    };
    await this.takeOver(withRow(next, step.row));
    await this.list();
  }

  // What the device refuses to keep stays here, goes into every export, and is tried again with the next save.
  private async save(saved: SavedDay): Promise<void> {
    this.unsaved.set(saved.id, saved);
    await this.flush();
  }

  private async flush(): Promise<void> {
    const told: string[] = [];
    let lines_told = false;
    const kept = await this.store(async () => {
      for (const [id, day] of this.unsaved) {
        await this.disk.use((db) => db.put('days', day));
        if (this.unsaved.get(id) === day) this.unsaved.delete(id);
        told.push(id);
      }
      const lines = this.unsavedLines;
      await this.disk.use(async (db) => {
        const work = db.transaction('lines', 'readwrite');
        await Promise.all([...lines.map((line) => work.store.put(line)), work.done]);
      });
      this.unsavedLines = this.unsavedLines.filter((line) => !lines.includes(line));
      lines_told ||= lines.length > 0;
      if (this.notice === 'storage' && this.lasting) this.notice = '';
    });
    this.tabs.tell(told, lines_told);
    if (kept) this.wait_ms = 2 * kSecondTry_ms;
    else this.flushLater();
  }

  // Not only with the next edit: there may be none before the page is closed.
  private wait_ms = 2 * kSecondTry_ms;
  private later: ReturnType<typeof setTimeout> | undefined;
  private flushLater(): void {
    clearTimeout(this.later);
    this.later = setTimeout(() => void this.flush(), this.wait_ms);
    this.wait_ms = Math.min(2 * this.wait_ms, kLongestWait_ms);
  }

  // Something here is not on the device.
  get unkept(): boolean {
    return this.unsaved.size > 0 || this.unsavedLines.length > 0;
  }

  private async store(write: () => Promise<unknown>): Promise<boolean> {
    if (await done(write)) return true;
    // A browser short of breath may refuse once; one that is full is asked no second time at once.
    if (this.notice !== 'storage') {
      await new Promise((then) => setTimeout(then, kSecondTry_ms));
      if (await done(write)) return true;
    }
    this.notice = 'storage';
    return false;
  }

  // One event, on the device before it is shown.
  async note(what: string, keys: Keys, at: Date, day_id = this.saved!.id): Promise<KeptLine> {
    const text = composed(freshId(), zoned(at), this.settings.device, what, keys);
    await this.keepLines([text], day_id);
    return keptOf(text, day_id)!;
  }

  async keepLines(texts: string[], day_id: string): Promise<number> {
    const added = fresh(texts, this.lines).flatMap((text) => keptOf(text, day_id) ?? []);
    await this.putLines(added);
    this.lines = [...this.lines, ...added];
    return added.length;
  }

  // All or none; what the device refuses stays here and goes into every export, as with days.
  private async putLines(lines: KeptLine[]): Promise<void> {
    this.unsavedLines = [...this.unsavedLines, ...lines];
    await this.flush();
  }

  takeBack(id: string, day_id = this.saved!.id): Promise<KeptLine> {
    return this.note('taken_back', { of: id }, new Date(), day_id);
  }

  // A doubted reading stays as it was read.
  async keepReading(id: string): Promise<void> {
    const line = this.lines.find((one) => one.id === id);
    if (!line) return;
    const kept = { ...line, kept: true };
    await this.putLines([kept]);
    this.lines = this.lines.map((one) => (one === line ? kept : one));
  }

  // Small things the rooms keep for themselves, by a name of their own.
  async memo<Kind>(name: string): Promise<Kind | undefined> {
    return (await this.disk.use((db) => db.get('settings', name))) as Kind | undefined;
  }
  async keepMemo(name: string, value: unknown): Promise<void> {
    await this.store(() => this.disk.use((db) => db.put('settings', value, name)));
  }

  exportAll(only?: string[]): Promise<string> {
    return this.disk.use((db) => exported(db, only, [...this.unsaved.values()], this.unsavedLines));
  }

  async importText(text: string): Promise<string> {
    const done = await this.disk.use((db) => imported(db, text));
    this.tabs.tell(done.days, done.lines > 0);
    this.lines = [...(await this.disk.use((db) => db.getAll('lines'))), ...this.unsavedLines];
    await this.list();
    if (done.days[0]) await this.openDay(done.days[0]);
    return en.days.counted(done.days.length, done.lines);
  }

  // A what-if: shown, not kept.
  try(change: (day: DayJson) => void): void {
    const day = copy(this.day);
    change(day);
    this.trial = true;
    this.compute(day, true);
  }

  drop(): void {
    this.trial = false;
    this.compute(this.day, false);
  }

  private show(day: DayJson): void {
    this.day = day;
    this.trial = false;
    this.odds = null;
    this.compute(day, false);
  }

  // The newest question wins. While a finger moves each answer is shown, none waited for.
  private compute(day: Table, quick: boolean): void {
    const text = written(day);
    this.current = text;
    this.fast.put({ day, text, quick });
  }

  private async answer({ day, text, quick }: { day: Table; text: string; quick: boolean }): Promise<void> {
    try {
      this.take(await this.engine.forecast(text, { one_loss: false, quick }));
      if (!quick && text === this.current) this.full.put(text);
    } catch (error) {
      if (!(error instanceof EngineError)) throw error;
      if (text === this.current) this.fault = { detail: error.detail, path: pathAtLine(day, error.detail.line) };
    }
  }

  // Odds and dead packs, asked of another worker: the first goes on answering what-ifs.
  private async complete(text: string): Promise<void> {
    try {
      const reply = await this.engine.forecast(text, { one_loss: true, odds_days: 512 }, 'beside');
      if (text === this.current) this.take(reply);
    } catch (error) {
      if (!(error instanceof EngineError)) throw error;
      if (text === this.current) this.fault = { detail: error.detail, path: null };
    }
  }

  private take(reply: { forecast: ForecastAnswer; strip?: StripData; curves: Float64Array }): void {
    this.fault = null;
    this.forecast = reply.forecast;
    this.strip = reply.strip ?? null;
    this.curves = reply.curves;
    this.odds = reply.forecast.odds; // none with the quick answer, which comes first
  }

  async countDays(days: number, progress: (share: number) => void): Promise<void> {
    this.odds = await this.engine.odds(written(this.day), days, 1, progress);
  }
}

export const app = new App();
