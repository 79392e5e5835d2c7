import type { Reading } from '../model.ts';
import { median } from './vector.ts';

/**
 * Taps, found in the measured seconds: one that is short (its crest factor is high) and stands far above what the
 * sensor felt just before. The threshold follows the sensor's recent peaks, so on a running machine only blows far
 * above its own shaking count; still, a road bump is one. Finding a clamp by tapping is for a machine at rest.
 */

/** A tap, as one sensor felt it. */
export interface Tap {
  nodeId: string;
  /** Null when the node does not say which of its sensors. */
  sensor: number | null;
  /** Unix ms; found in a measured second: its middle. */
  atMs: number;
  /** Null when the node does not say. */
  peakMPerS2: number | null;
  /** Found in the samples by the station, or told by the node. */
  source: 'samples' | 'node';
  /** Whether the sensor was at rest before it; null when that is not known. */
  atRest: boolean | null;
}

/** Largest peaks of a sensor's last seconds, oldest first. */
export type RecentPeaks = number[];

const MOST_PEAKS = 9;
const FEWEST_PEAKS = 3;
/** A knuckle on a clamp gives tens of m/s² (common practice, no source). */
const SMALLEST_PEAK_M_PER_S2 = 2;
const ABOVE_MEDIAN = 6;
/** Random noise has about 4 over a second, a tone 1.4; a ring-down of a few hundredths of a second 10 and more. */
const SMALLEST_CREST = 6;
/**
 * One blow that dies away as exp(-s t) gives a kurtosis of 1.5 s over a second, n like it 1.5 s / n. A clamp's s is 30
 * to 150 a second (common practice, no source): many blows in one second are a loose part, not a knuckle.
 */
const SMALLEST_KURTOSIS = 20;
/** Peaks of a sensor's own noise stay below; those of anything that runs do not (common practice, no source). */
const AT_REST_M_PER_S2 = 1;

/** Peak that a tap must reach after these seconds; null while too few are known. */
export function tapThreshold(recent: RecentPeaks): number | null {
  if (recent.length < FEWEST_PEAKS) return null;
  return Math.max(SMALLEST_PEAK_M_PER_S2, ABOVE_MEDIAN * median(recent));
}

/** The tap that this reading shows, if it shows one; takes its peak into `recent`. */
export function findTap(recent: RecentPeaks, reading: Reading): Tap | null {
  let peak: number | null = null;
  let crest = 0;
  let kurtosis = 0;
  for (const { accelerationPeakMPerS2, crestFactor, kurtosis: spikiness } of reading.axes) {
    if (accelerationPeakMPerS2 === null || accelerationPeakMPerS2 <= (peak ?? -1)) continue;
    peak = accelerationPeakMPerS2;
    crest = crestFactor ?? 0;
    kurtosis = spikiness ?? 0;
  }
  if (peak === null || reading.flags.includes('unknown-scale')) return null;
  const threshold = tapThreshold(recent);
  const atRest = median(recent) < AT_REST_M_PER_S2;
  recent.push(peak);
  if (recent.length > MOST_PEAKS) recent.shift();
  if (threshold === null || peak < threshold) return null;
  if (crest < SMALLEST_CREST || kurtosis < SMALLEST_KURTOSIS) return null;
  const { nodeId, sensor, startMs, durationS } = reading;
  return {
    nodeId,
    sensor,
    atMs: Math.round(startMs + 500 * durationS),
    peakMPerS2: peak,
    source: 'samples',
    atRest,
  };
}
