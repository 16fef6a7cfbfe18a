// The device's storage behind a connection that may break: a browser may let go of one (short of memory, or the page long
// in the background), and whatever is asked then fails until it is opened again.
import { open, type Store } from './db';

const broken = (error: unknown): boolean => error instanceof DOMException && error.name !== 'QuotaExceededError';

export class Disk {
  private connection: Promise<Store> | null = null;

  constructor(private opened: () => Promise<Store> = open) {}

  // After a break it is asked once more, over a fresh connection: what is asked must do no harm done twice. Every refusal of
  // the storage counts as a break but "full"; fails as the second time fails.
  async use<Kind>(ask: (db: Store) => Promise<Kind>): Promise<Kind> {
    const used = this.connected();
    try {
      return await ask(await used);
    } catch (error) {
      if (!broken(error)) throw error;
      if (this.connection === used) await this.letGo();
      return await ask(await this.connected());
    }
  }

  private connected(): Promise<Store> {
    this.connection ??= this.opened();
    return this.connection;
  }

  private async letGo(): Promise<void> {
    const old = this.connection;
    this.connection = null;
    await old?.then((db) => db.close()).catch(() => undefined);
  }
}
