// Stands in for the device's storage where there is none: the same calls, kept while the page is open.
import type { Store } from './db';

type Row = Record<string, unknown>;

export function memoryStore(): Store {
  const all = new Map<string, Map<string, unknown>>();
  const of = (name: string) => {
    if (!all.has(name)) all.set(name, new Map());
    return all.get(name)!;
  };
  const put = async (name: string, value: unknown, key?: string) => {
    const id = key ?? String((value as Row)[name === 'lines' ? 'text' : 'id']);
    of(name).set(id, structuredClone(value));
    return id;
  };
  const get = async (name: string, key: string) => structuredClone(of(name).get(key));
  const getAll = async (name: string) => [...of(name).values()].map((value) => structuredClone(value));
  const take = async (name: string, key: string) => void of(name).delete(key);
  const one = (name: string) => ({
    put: (value: unknown, key?: string) => put(name, value, key),
    get: (key: string) => get(name, key),
    getAll: () => getAll(name),
    delete: (key: string) => take(name, key),
  });
  const store = {
    put,
    get,
    getAll,
    delete: take,
    // An index by a field is named by_day for day_id.
    getAllFromIndex: async (name: string, index: string, value: unknown) =>
      (await getAll(name)).filter((row) => (row as Row)[`${index.replace(/^by_/, '')}_id`] === value),
    transaction: (names: string | string[]) => ({
      store: one(typeof names === 'string' ? names : names[0]!),
      objectStore: one,
      done: Promise.resolve(),
    }),
  };
  return store as unknown as Store;
}
