import { trend } from '../../../collector/index.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { WatchPlanRecord } from '../records/watch-plans.ts';

const DAY_MS = 86_400_000;

export interface WatchPlanDue {
  /** End of the last run (or day of a machine) made as agreed since the plan began. */
  lastCountedMs: number | null;
  /** When to measure again. */
  nextDueMs: number;
  /** 0 while it is not due yet. */
  overdueMs: number;
}

/** When the next measurement of an open plan is due, from the last one that counts, or from its begin. */
export function watchPlanDue(records: RecordStore, plan: WatchPlanRecord, nowMs: number): WatchPlanDue {
  const last = lastCountedMs(records, plan, nowMs);
  const counted = last !== null && last >= plan.startedMs ? last : null;
  const nextDueMs = (counted ?? plan.startedMs) + plan.everyDays * DAY_MS;
  return { lastCountedMs: counted, nextDueMs, overdueMs: Math.max(0, nowMs - nextDueMs) };
}

/** Open plans of all assets with when each is due, the longest overdue first. */
export function openWatchPlans(records: RecordStore, nowMs: number): (WatchPlanRecord & WatchPlanDue)[] {
  return records.watchPlans
    .open()
    .map((plan) => ({ ...plan, ...watchPlanDue(records, plan, nowMs) }))
    .sort((a, b) => a.nextDueMs - b.nextDueMs);
}

function lastCountedMs(records: RecordStore, plan: WatchPlanRecord, nowMs: number): number | null {
  const { assetId, locationId, conditions } = plan;
  const places = locationId === null ? records.assets.locations(assetId).map(({ id }) => id) : [locationId];
  const run = records.watchPlans.lastRunMs(places, conditions.kind, conditions.bins);
  if (records.assets.asset(assetId).kind === 'vehicle') return run;
  const days = places.flatMap((id) => lastRunningDayMs(records, id) ?? []);
  const times = [...days, ...(run === null ? [] : [run])];
  // Today is counted as soon as it has readings, and is not over yet.
  return times.length === 0 ? null : Math.min(nowMs, Math.max(...times));
}

/** A machine that stands still is not measured, however many readings its sensor sends. */
function lastRunningDayMs(records: RecordStore, locationId: number): number | null {
  const days = records.watchPlans.dayLevels(locationId);
  const found = trend.baseline(days);
  const running = found.known ? days.filter(({ value }) => trend.wasRunning(value, found.median)) : days;
  return running.at(-1)?.toMs ?? null;
}
