// Other tabs on the same storage: each tells the others what it has kept.
interface News {
  days: string[]; // ids
  lines: boolean; // of the journal
}

export class Tabs {
  private channel: BroadcastChannel | null = null;

  constructor(private heard: (days: string[], lines: boolean) => void) {}

  listen(name = 'tillwrap'): void {
    if (typeof BroadcastChannel === 'undefined') return;
    this.channel = new BroadcastChannel(name);
    this.channel.onmessage = ({ data }: MessageEvent<News>) => this.heard(data.days, data.lines);
  }

  close(): void {
    this.channel?.close();
  }

  tell(days: string[], lines: boolean): void {
    if (days.length > 0 || lines) this.channel?.postMessage({ days, lines } satisfies News);
  }
}

// While it works no other tab does; where the browser has no locks (a page not over HTTPS) nothing keeps them apart.
export async function alone(work: () => Promise<void>): Promise<void> {
  if (globalThis.navigator?.locks) await navigator.locks.request('tillwrap day', work);
  else await work();
}
