import type { LocationReading } from '../../contract/model.ts';
import { ago, moment } from '../format.ts';

/** A reading comes every second; a few may be on the way. */
const LATE_AFTER_MS = 5_000;
const SILENT_AFTER_MS = 30_000;

export interface Freshness {
  kind: 'never' | 'fresh' | 'late' | 'silent' | 'last-known';
  text: string;
}

/** How old a reading is, by the station's clock, in words. While the station is out of reach nothing is known. */
export function freshness(
  reading: Pick<LocationReading, 'startMs' | 'durationS'> | undefined,
  nowMs: number,
  connected: boolean,
): Freshness {
  if (reading === undefined) return { kind: 'never', text: 'no reading yet' };
  const endMs = reading.startMs + reading.durationS * 1000;
  const ageMs = nowMs - endMs;
  if (!connected) return { kind: 'last-known', text: `last known, ${moment(endMs, nowMs)}` };
  if (ageMs <= LATE_AFTER_MS) return { kind: 'fresh', text: ago(ageMs) };
  if (ageMs <= SILENT_AFTER_MS) return { kind: 'late', text: `late: ${ago(ageMs)}` };
  return { kind: 'silent', text: `no data since ${moment(endMs, nowMs)}` };
}
