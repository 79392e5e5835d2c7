import type { Reading } from '../model.ts';

/** A reading dated further ahead than this does not keep later ones from being published. */
const AHEAD_MS = 10_000;

/**
 * What is still to be published: of each sensor the newest reading only. During an outage, or while old data is
 * worked off, older ones are in the store; the memory stays at one reading for each sensor.
 */
export interface Newest {
  offer(readings: readonly Reading[], nowMs: number): void;
  take(): Reading[];
  /** Puts back what could not be sent, unless something newer has come. */
  putBack(readings: readonly Reading[]): void;
  /** All sensors' newest are to be published again: a restarted broker has forgotten its retained messages. */
  takeAllAgain(): void;
}

export function createNewest(): Newest {
  const waiting = new Map<string, Reading>();
  const newest = new Map<string, Reading>();
  const keyOf = (reading: Reading) => `${reading.nodeId}/${reading.sensor}`;

  return {
    offer(readings, nowMs) {
      for (const reading of readings) {
        const key = keyOf(reading);
        const beforeMs = newest.get(key)?.startMs ?? Number.NEGATIVE_INFINITY;
        if (reading.startMs < beforeMs && beforeMs < nowMs + AHEAD_MS) continue;
        newest.set(key, reading);
        waiting.set(key, reading);
      }
    },
    take() {
      const readings = [...waiting.values()];
      waiting.clear();
      return readings;
    },
    takeAllAgain() {
      for (const [key, reading] of newest) waiting.set(key, reading);
    },
    putBack(readings) {
      for (const reading of readings) if (!waiting.has(keyOf(reading))) waiting.set(keyOf(reading), reading);
    },
  };
}
