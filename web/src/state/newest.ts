// One piece of work at a time, always on the newest thing asked for: what waits behind a running one is replaced, never queued.
export class Newest<Item> {
  private waiting: { item: Item } | null = null;
  private running = false;

  constructor(
    private work: (item: Item) => Promise<void>,
    private busy: (busy: boolean) => void = () => {},
  ) {}

  put(item: Item): void {
    this.waiting = { item };
    if (!this.running) void this.run();
  }

  // Something newer than what runs now is waiting.
  get overtaken(): boolean {
    return this.waiting !== null;
  }

  private async run(): Promise<void> {
    this.running = true;
    this.busy(true);
    try {
      while (this.waiting) {
        const { item } = this.waiting;
        this.waiting = null;
        await this.work(item);
      }
    } finally {
      this.running = false;
      this.busy(false);
    }
  }
}
