import { openWatchPlans } from '../deciding/watch-due.ts';
import { standingOf } from '../deciding/watch-standing.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { Trends } from '../weeks/trend-cache.ts';
import type { DuePlan } from './silence-causes.ts';

/** Open watch plans with what alerts need of them. Limits of a location that was deleted since are left out. */
export async function duePlans(records: RecordStore, trends: Trends, nowMs: number): Promise<DuePlan[]> {
  const plans = openWatchPlans(records, nowMs);
  const places = new Set(plans.length === 0 ? [] : records.assets.locations().map(({ id }) => id));
  return Promise.all(
    plans.map(async ({ id, assetId, locationId, everyDays, lastCountedMs, nextDueMs, stopLimits }) => {
      const limits = stopLimits.filter((limit) => places.has(limit.locationId));
      const standing = await standingOf(trends, limits);
      const reached = standing.filter((one) => one.reached === true).map(({ sentence }) => sentence);
      return { id, assetId, locationId, everyDays, lastCountedMs, nextDueMs, reached };
    }),
  );
}
