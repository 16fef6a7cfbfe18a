import 'fake-indexeddb/auto';
import { describe, expect, it } from 'vitest';
import { open, type Store } from '../../src/state/db';
import { Disk } from '../../src/state/disk';

describe('a connection that breaks', () => {
  it('is opened again, and nothing asked is lost', async () => {
    const opened: Store[] = [];
    const disk = new Disk(async () => {
      const db = await open('breaks');
      opened.push(db);
      return db;
    });
    await disk.use((db) => db.put('settings', 'black', 'theme'));
    opened[0]!.close(); // as a browser does by itself
    await disk.use((db) => db.put('settings', 'sunlight', 'theme'));
    expect(await disk.use((db) => db.get('settings', 'theme'))).toBe('sunlight');
    expect(opened.length).toBe(2);
  });
  it('that several are waiting on is opened again once', async () => {
    const opened: Store[] = [];
    const disk = new Disk(async () => {
      const db = await open('several');
      opened.push(db);
      return db;
    });
    await disk.use((db) => db.put('settings', 1, 'a'));
    opened[0]!.close();
    await Promise.all(['a', 'b', 'c'].map((key) => disk.use((db) => db.put('settings', 2, key))));
    expect(opened.length).toBe(2);
    expect(await disk.use((db) => db.getAll('settings'))).toEqual([2, 2, 2]);
  });
  it('could not be opened: told, and tried again when next asked', async () => {
    let refused = 2;
    const disk = new Disk(() => (refused-- > 0 ? Promise.reject(new DOMException('not now', 'UnknownError')) : open('later')));
    await expect(disk.use((db) => db.get('settings', 'theme'))).rejects.toThrow('not now');
    expect(await disk.use((db) => db.get('settings', 'theme'))).toBeUndefined();
  });
});

describe('what is no break', () => {
  it.each([new DOMException('no room', 'QuotaExceededError'), new Error('a file of another kind')])('is told at once: %s', async (error) => {
    const disk = new Disk(() => open('whole'));
    let asked = 0;
    const ask = async () => {
      ++asked;
      throw error;
    };
    await expect(disk.use(ask)).rejects.toBe(error);
    expect(asked).toBe(1);
  });
});
