import type { CollectorState } from '../../collector/index.ts';
import type { Health } from '../contract/http.ts';
import type { StationHealth } from './config.ts';
import type { Live } from './live/live.ts';

/** Collector and broker speak every 2 s; after this long they are taken for gone. */
const SILENT_MS = 15_000;
/** A collector this far behind is not live any more. */
const LAGGING_MS = 60_000;

/** One picture of the station from what journal, collector and broker say of themselves. Pure. */
export function stationHealth(
  { journal, counters }: StationHealth,
  { connected, lastMessageMs, collector, broker, counters: own }: ReturnType<Live['state']>,
  nowMs: number,
): Health {
  const seen = collector === null ? null : collectorHealth(collector, nowMs);
  // In a process of its own the broker speaks for itself; in this one its counts came along already.
  const heard = broker !== null && Math.abs(nowMs - broker.atMs) <= SILENT_MS ? broker : null;
  const waiting = journal.waiting || (heard?.waiting ?? false);
  const works = seen !== null && (seen.phase === 'live' || seen.phase === 'catching-up') && !seen.error;
  return {
    ok: connected && !waiting && works && (seen.lagMs ?? 0) < LAGGING_MS,
    journal: { ...journal, waiting },
    collector: seen ?? { lagMs: null, lastReadingMs: null },
    mqtt: { connected, lastMessageMs },
    counters: {
      ...heard?.counters,
      ...counters,
      ...named('collector', collector?.counters ?? {}),
      ...named('dashboard', own),
    },
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
