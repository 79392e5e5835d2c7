import { type Random, uniform } from './random.ts';
import { blockBootstrap, blockLength, lag1, mad, median } from './robust.ts';

/** One reading of one value at one location. */
export interface ReadingValue {
  timeMs: number;
  /** Null when the value could not be measured. */
  value: number | null;
  /** The block carries a flag (clipped, gap, settling ...), so its value is not used. */
  flagged: boolean;
}

export interface RunSummary {
  /** First and last reading of the run, used or not. */
  fromMs: number;
  toMs: number;
  readings: number;
  used: number;
  /** Share of the readings left out, 0 to 1. */
  leftOutShare: number;
  /** Null when no reading is usable. */
  median: number | null;
  /** Root of the mean square, as an RMS over the whole run would read. */
  energyMean: number | null;
  /** Median absolute deviation of the readings, unscaled. */
  mad: number | null;
  /** Standard error of the median, allowing for seconds that resemble the second before. Null below 8 readings. */
  medianSd: number | null;
  /** Why the run must not enter a trend; null when it may. */
  refused: 'too-few-readings' | 'too-many-left-out' | null;
}

export interface RunLimits {
  leastUsed: number;
  mostLeftOutShare: number;
}

/** Ten one-second readings carry a median to about 4 % at 10 % scatter; common practice, no source. */
export const RUN_LIMITS: RunLimits = { leastUsed: 10, mostLeftOutShare: 0.3 };

/**
 * One run in a few numbers: a trend is made of runs, not of readings, because the seconds of one run share its
 * conditions and are no independent evidence.
 *
 * @param readings of one run, one value and one condition bin, in order of time
 * @throws RangeError when there are no readings at all
 */
export function runSummary(
  readings: readonly ReadingValue[],
  limits: RunLimits = RUN_LIMITS,
  next: Random = uniform(readings.length),
): RunSummary {
  const [first, last] = [readings[0], readings.at(-1)];
  if (first === undefined || last === undefined)
    throw new RangeError('a run summary needs readings, got none');
  const values = readings.flatMap(({ value, flagged }) => (flagged || value === null ? [] : [value]));
  const used = values.length;
  const leftOutShare = 1 - used / readings.length;
  const frame = { fromMs: first.timeMs, toMs: last.timeMs, readings: readings.length, used, leftOutShare };
  if (used === 0) {
    return {
      ...frame,
      median: null,
      energyMean: null,
      mad: null,
      medianSd: null,
      refused: 'too-few-readings',
    };
  }
  return {
    ...frame,
    median: median(values),
    energyMean: Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / used),
    mad: mad(values),
    medianSd: used < 8 ? null : medianSd(values, next),
    refused:
      used < limits.leastUsed
        ? 'too-few-readings'
        : leftOutShare > limits.mostLeftOutShare
          ? 'too-many-left-out'
          : null,
  };
}

function medianSd(values: readonly number[], next: Random): number {
  const middle = median(values);
  const block = blockLength(values.length, lag1(values.map((value) => value - middle)));
  const medians = blockBootstrap(values, median, { block, resamples: 100, next });
  const mean = medians.reduce((sum, value) => sum + value, 0) / medians.length;
  return Math.sqrt(medians.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (medians.length - 1));
}
