import type { Log } from '../config.ts';
import { Refusal } from '../errors.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { Looks } from './looks.ts';

/** Looks at every location whose shaft has a known speed, every so often, so that there is a history. */
export interface LookSchedule {
  /** Looks at the location that has waited longest, if it is due; called by a timer. */
  tick(): Promise<void>;
  close(): void;
}

const EVERY_MS = 600_000;
/** One location at a time, so that the work is spread and a person's look never waits for long. */
const TICK_MS = 5_000;

export function createLookSchedule(
  records: RecordStore,
  looks: Looks,
  log: Log,
  now: () => number,
): LookSchedule {
  const triedMs = new Map<number, number>();

  /** Only where a sensor is mounted and a speed is known without asking a person. */
  function candidates(): number[] {
    const atWork = new Set(records.runs.list().flatMap((run) => (run.endMs === null ? [run.assetId] : [])));
    return records.mounts.current().flatMap(({ locationId }) => {
      const { assetId } = records.assets.location(locationId);
      const { nominalSpeedRpm, shafts } = records.driveTrains.of(assetId);
      const known = nominalSpeedRpm !== null || (atWork.has(assetId) && shafts.length > 0);
      return known ? [locationId] : [];
    });
  }

  async function tick(): Promise<void> {
    if (looks.waiting() > 0) return;
    const due = candidates()
      .map((locationId) => ({ locationId, atMs: triedMs.get(locationId) ?? lastLookMs(records, locationId) }))
      .filter(({ atMs }) => now() - atMs >= EVERY_MS)
      .sort((a, b) => a.atMs - b.atMs)[0];
    if (due === undefined) return;
    triedMs.set(due.locationId, now());
    try {
      await looks.look(due.locationId, {}, null);
    } catch (error) {
      // A sensor that sends nothing is shown elsewhere; the next turn tries again.
      if (!(error instanceof Refusal)) log.error(`a scheduled look failed: ${(error as Error).message}`);
    }
  }

  const timer = setInterval(() => void tick(), TICK_MS);
  timer.unref();
  return { tick, close: () => clearInterval(timer) };
}

function lastLookMs(records: RecordStore, locationId: number): number {
  return records.findings.list(locationId, 1)[0]?.atMs ?? Number.NEGATIVE_INFINITY;
}
