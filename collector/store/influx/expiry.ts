import { CollectorError } from '../../errors.ts';
import type { InfluxClient } from './client.ts';
import { sitePredicate } from './flux-queries.ts';
import type { LevelName } from './layout.ts';

const DAY_MS = 86_400_000;

/** Deletes what a site keeps no longer in the database, once a day. */
export interface Expiry {
  /** Begins in the background when a new day has begun since the last time. */
  tick(nowMs: number): void;
  /** Settles when nothing is being deleted. */
  idle(): Promise<void>;
}

export function createExpiry(
  client: InfluxClient,
  site: string,
  keepDays: Partial<Record<LevelName, number>>,
  failed: (error: CollectorError) => void,
): Expiry {
  const levels = Object.entries(keepDays) as [LevelName, number][];
  let doneDay = Number.NEGATIVE_INFINITY;
  let running: Promise<void> = Promise.resolve();

  async function remove(nowMs: number): Promise<void> {
    const today = Math.floor(nowMs / DAY_MS);
    for (const [level, days] of levels) {
      await client.remove(level, 0, (today - days) * DAY_MS - 1, sitePredicate(level, site));
    }
  }

  return {
    tick(nowMs) {
      const day = Math.floor(nowMs / DAY_MS);
      if (levels.length === 0 || day === doneDay) return;
      doneDay = day;
      running = remove(nowMs).catch((error) => {
        // The same will be deleted tomorrow, or after the next start.
        failed(
          error instanceof CollectorError
            ? error
            : new CollectorError('COLLECTOR_FAILED', String(error), error),
        );
      });
    },
    idle: () => running,
  };
}
