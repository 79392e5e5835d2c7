import { readdirSync, statfsSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Health } from '../contract/http.ts';
import type { BrokerPart } from './parts.ts';

/** State of the journal's folder and, where they run in this process, of its writer and the broker. */
export function stationHealth(
  journalFolder: string,
  here: Pick<BrokerPart, 'broker' | 'journal' | 'bridge'> | null,
): Health {
  const waiting = here?.journal.state().state === 'waiting';
  return {
    ok: !waiting,
    journal: { ...room(journalFolder), waiting },
    collector: { lagMs: null, lastReadingMs: null },
    counters: here === null ? {} : streamCounters(here),
  };
}

/** What the broker says of itself to parts in other processes. */
export function brokerState(here: Pick<BrokerPart, 'broker' | 'journal' | 'bridge'>): object {
  return {
    atMs: Date.now(),
    waiting: here.journal.state().state === 'waiting',
    counters: streamCounters(here),
  };
}

/** Counts of the stream of messages. Names of the bridge's begin with `bridge`. */
function streamCounters({ broker, bridge }: Pick<BrokerPart, 'broker' | 'bridge'>): Record<string, number> {
  const ofBridge = Object.entries(bridge?.counters() ?? {}).map(([name, count]) => [
    `bridge${name[0]!.toUpperCase()}${name.slice(1)}`,
    count,
  ]);
  return { ...broker.counters(), ...Object.fromEntries(ofBridge) };
}

/** A folder that is not there yet, or a segment that retention has just removed, counts as nothing. */
function room(folder: string): { bytes: number; freeBytes: number } {
  try {
    const { bavail, bsize } = statfsSync(folder);
    const sizes = readdirSync(folder).map(
      (name) => statSync(join(folder, name), { throwIfNoEntry: false })?.size ?? 0,
    );
    return { bytes: sizes.reduce((sum, size) => sum + size, 0), freeBytes: bavail * bsize };
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return { bytes: 0, freeBytes: 0 };
    throw error;
  }
}
