import { CollectorError } from '../../errors.ts';
import type { InfluxClient } from './client.ts';
import { announcementLines, type Place } from './place-points.ts';

/** A name that was corrected shows elsewhere after so long. */
const LOOK_MS = 30_000;
/** Without any change: often enough for a bucket that keeps a day. */
const AGAIN_S = 6 * 3600;

export interface AnnouncerOptions {
  client: InfluxClient;
  site: string;
  /** What there is now. */
  places: () => Place[];
  /** Tells what else is new. */
  lookFurther?: (() => Promise<void>) | undefined;
  /** Why an announcement could not be made; told once for each reason. */
  failed: (error: CollectorError) => void;
  lookMs?: number;
}

/**
 * Tells the database which assets and locations a site has: at the start, after every change, and every few hours.
 * What cannot be told now is tried again at the next look, with what is true then: nothing waits on the disk.
 */
export function startAnnouncer(options: AnnouncerOptions): { close(): Promise<void> } {
  const { client, site, places, lookFurther, failed, lookMs = LOOK_MS } = options;
  let told: { text: string; atS: number } = { text: '', atS: 0 };
  let problem = '';
  let running: Promise<void> | null = null;

  async function look(): Promise<void> {
    const now = places();
    const text = JSON.stringify(now);
    // Two announcements of one second would be one, with the places of both.
    const atS = Math.max(Math.floor(Date.now() / 1000), told.atS + 1);
    if (text === told.text && atS - told.atS < AGAIN_S) return;
    // Hours are kept longest.
    await client.write('hour', announcementLines(site, now, atS));
    told = { text, atS };
  }

  async function lookAndSay(): Promise<void> {
    try {
      await look();
      await lookFurther?.();
      problem = '';
    } catch (cause) {
      const error =
        cause instanceof CollectorError
          ? cause
          : new CollectorError('COLLECTOR_FAILED', String(cause), cause);
      // That the database is away is said by who delivers readings.
      if (error.message !== problem && error.code !== 'INFLUX_UNREACHABLE') failed(error);
      problem = error.message;
    }
  }

  function begin(): void {
    running ??= lookAndSay().finally(() => {
      running = null;
    });
  }

  begin();
  const timer = setInterval(begin, lookMs);
  timer.unref();
  return {
    async close() {
      clearInterval(timer);
      await running;
    },
  };
}
