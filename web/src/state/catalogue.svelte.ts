// The catalogue's lists as the page needs them, read once from the engine.
import { app } from './app.svelte';
import type { Entry, List } from './entry';

export type { Entry, Find, List } from './entry';

class Catalogue {
  lists = $state.raw<Partial<Record<List, Entry[]>>>({});
  private asked = new Set<List>();

  async need(...names: List[]): Promise<void> {
    for (const name of names) {
      if (this.asked.has(name)) continue;
      this.asked.add(name);
      const { entries } = await app.engine.ask<{ entries: Entry[] }>('catalogue', { what: name });
      this.lists = { ...this.lists, [name]: entries };
    }
  }

  of = (name: List): Entry[] => this.lists[name] ?? [];
  find = (name: List, id: string): Entry | undefined => this.of(name).find((entry) => entry.id === id);
}

export const catalogue = new Catalogue();
