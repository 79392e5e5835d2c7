import type { CollectorState } from '../../collector/index.ts';
import type { Health } from '../contract/http.ts';
import type { StationHealth } from './config.ts';
import type { Live } from './live/live.ts';

/** The collector speaks every 2 s; after this long it is taken for gone. */
const SILENT_MS = 15_000;
/** A collector this far behind is not live any more. */
const LAGGING_MS = 60_000;

/** One picture of the station from what journal, collector and broker say of themselves. Pure. */
export function stationHealth(
  { journal, counters }: StationHealth,
  { connected, lastMessageMs, collector, counters: own }: ReturnType<Live['state']>,
  nowMs: number,
): Health {
  const seen = collector === null ? null : collectorHealth(collector, nowMs);
  const works = seen !== null && (seen.phase === 'live' || seen.phase === 'catching-up') && !seen.error;
  return {
    ok: connected && !journal.waiting && works && (seen.lagMs ?? 0) < LAGGING_MS,
    journal,
    collector: seen ?? { lagMs: null, lastReadingMs: null },
    mqtt: { connected, lastMessageMs },
    counters: { ...counters, ...named('collector', collector?.counters ?? {}), ...named('dashboard', own) },
  };
}

function collectorHealth(
  state: CollectorState,
  nowMs: number,
): Health['collector'] & { lagMs: number | null } {
  const { lagMs, lastReadingMs, caughtUpShare, error } = state;
  const phase = Math.abs(nowMs - state.atMs) > SILENT_MS ? 'silent' : state.phase;
  return { lagMs, lastReadingMs, phase, caughtUpShare, error };
}

/** The parts count with the same words. */
function named(part: string, counters: Record<string, number>): Record<string, number> {
  return Object.fromEntries(Object.entries(counters).map(([name, count]) => [`${part}.${name}`, count]));
}
