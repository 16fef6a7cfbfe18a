// The night planned for a day, kept on this device so that it is there at once at three in the morning.
import type { RechargeReply } from '../engine/types';
import { app } from './app.svelte';
import type { Night } from './night';

export interface KeptNight {
  night: Night;
  answer: RechargeReply | null;
  of: string; // what was asked, to see that it has changed since
  zero_ms: number; // midnight its seconds count from
}

export const keptNight = (day_id: string): Promise<KeptNight | undefined> => app.memo<KeptNight>(`night ${day_id}`);
export const keepNight = (day_id: string, kept: KeptNight): Promise<void> => app.keepMemo(`night ${day_id}`, kept);
