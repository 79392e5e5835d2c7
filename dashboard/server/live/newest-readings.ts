import type { Reading, ReadingReader, SensorKey } from '../../../collector/index.ts';
import type { Log } from '../config.ts';

/** While nothing arrives over MQTT, the store is asked at most this often. */
const REFRESH_MS = 1_000;
const AHEAD_MS = 60_000;

/** Newest reading of each sensor, kept in memory. */
export interface NewestReadings {
  of(sensor: SensorKey): Reading | null;
  ofNode(nodeId: string): Reading[];
  /** False when a newer one is known already. One of the same second takes its place: it holds more samples. */
  put(reading: Reading): boolean;
  /**
   * Catches up from the store, unless readings arrive over MQTT anyway. A store that fails is logged, and what is
   * known stays: its age tells the rest.
   */
  refresh(): Promise<void>;
}

export function createNewestReadings(sources: {
  readings: ReadingReader;
  /** Whether readings arrive over MQTT now. */
  fed(): boolean;
  log: Log;
  now(): number;
}): NewestReadings {
  const { readings, fed, log, now } = sources;
  const byNode = new Map<string, Map<number, Reading>>();
  let readOnce = false;
  let lastReadMs = Number.NEGATIVE_INFINITY;
  let failing = false;
  let reading: Promise<void> | undefined;

  function put(found: Reading): boolean {
    let sensors = byNode.get(found.nodeId);
    if (sensors === undefined) {
      sensors = new Map();
      byNode.set(found.nodeId, sensors);
    }
    const known = sensors.get(found.sensor);
    // A recording played fast, or a clock set back, may have left one ahead of the clock: that is not newest for ever.
    const isAhead = (one: Reading) => one.startMs > now() + AHEAD_MS;
    const misplaced = known !== undefined && isAhead(known) && !isAhead(found);
    if (known !== undefined && known.startMs > found.startMs && !misplaced) return false;
    sensors.set(found.sensor, found);
    return true;
  }

  async function read(): Promise<void> {
    try {
      for (const found of await readings.latest()) put(found);
      readOnce = true;
      failing = false;
    } catch (error) {
      if (!failing) log.warn(`the store of readings does not answer: ${(error as Error).message}`);
      failing = true;
    }
    lastReadMs = now();
  }

  return {
    of: ({ nodeId, sensor }) => byNode.get(nodeId)?.get(sensor) ?? null,
    ofNode: (nodeId) => [...(byNode.get(nodeId)?.values() ?? [])],
    put,
    async refresh() {
      if (readOnce && fed()) return;
      if (reading === undefined && Math.abs(now() - lastReadMs) < REFRESH_MS) return;
      reading ??= read().finally(() => {
        reading = undefined;
      });
      await reading;
    },
  };
}
