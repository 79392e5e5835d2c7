import { gaussian, type Random, uniform } from './random.ts';
import { autoregressiveResample, lag1, median } from './robust.ts';

export interface ChangePoint {
  /** The new level begins with this run. */
  index: number;
  /** Median after minus median before, in the unit of the values. */
  step: number;
  /** Chance of as clear a step somewhere in a series without one, scatter resembling its neighbours included. */
  pValue: number;
}

/** Fitted numbers: the level before, the level after, and the place. */
const FITTED = 3;

/** Pettitt's statistic |U| for every split, largest first found: U(k) = sum over i < k <= j of sign(y[j] - y[i]). */
function pettitt(values: readonly number[]): { index: number; largest: number } {
  let index = 1;
  let largest = -1;
  let u = 0;
  for (let k = 0; k < values.length - 1; k++) {
    for (const other of values) u += Math.sign(other - values[k]!);
    if (Math.abs(u) > largest) {
      largest = Math.abs(u);
      index = k + 1;
    }
  }
  return { index, largest };
}

/**
 * Where did the level change, if it did? Pettitt's test (1979): rank based, so wild runs do not decide it.
 *
 * His approximation p = 2 exp(-6 K² / (n³ + n²)) holds for independent values. Here the null is made from the series
 * itself: its values in moving blocks put in random order, blocks long enough for the lag-1 correlation left once the
 * best step is taken out. Null when fewer than 8 values are given.
 *
 * @param values in order of time
 */
export function changePoint(
  values: readonly number[],
  options: { resamples?: number; next?: Random } = {},
): ChangePoint | null {
  const n = values.length;
  if (n < 8) return null;
  const { index, largest } = pettitt(values);
  const before = median(values.slice(0, index));
  const after = median(values.slice(index));
  const residuals = values.map((value, i) => value - (i < index ? before : after));
  const r = lag1(residuals, FITTED);
  const next = options.next ?? uniform(n);
  const gauss = gaussian(next);
  const resamples = options.resamples ?? 999;
  let asLarge = 0;
  for (let b = 0; b < resamples; b++) {
    const again = autoregressiveResample(residuals, r, next, gauss);
    if (pettitt(again).largest >= largest) asLarge++;
  }
  return { index, step: after - before, pValue: (1 + asLarge) / (1 + resamples) };
}

/** Pettitt's own approximate significance of the largest |U|, for independent values. */
export function pettittPValue(values: readonly number[]): number {
  const n = values.length;
  return Math.min(1, 2 * Math.exp((-6 * pettitt(values).largest ** 2) / (n ** 3 + n ** 2)));
}
