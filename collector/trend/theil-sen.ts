import { normalQuantile } from './normal.ts';
import { gaussian, type Random } from './random.ts';
import { autoregressiveResample, lag1, median, quantileOfSorted } from './robust.ts';

export interface TheilSen {
  /** Change of y per unit of x: the median slope of all pairs. */
  slope: number;
  /** median(y) - slope x median(x). */
  intercept: number;
  /** Ends of the interval for the slope. Null where two points or ties leave no interval. */
  low: number | null;
  high: number | null;
}

/**
 * Theil's and Sen's line: up to 29 % of the runs may be wild without bending it.
 *
 * Interval after Sen (1968), eq. 2.6, which holds for independent scatter; same definitions (ties, rounding of ranks)
 * as scipy.stats.theilslopes with `method='separate'`. For scatter that resembles its neighbours use `slopeInterval`.
 *
 * @param x instants, any order; pairs with equal x are left out
 * @param confidence share of intervals that hold the true slope, e.g. 0.95
 * @throws RangeError when lengths differ or fewer than two different x are given
 */
export function theilSen(x: readonly number[], y: readonly number[], confidence = 0.95): TheilSen {
  const slopes = pairSlopes(x, y);
  const slope = quantileOfSorted(slopes, 0.5);
  const n = y.length;
  const spread = (ties: number[]) => ties.reduce((sum, k) => sum + k * (k - 1) * (2 * k + 5), 0);
  const variance = (n * (n - 1) * (2 * n + 5) - spread(repeats(x)) - spread(repeats(y))) / 18;
  const reach = -normalQuantile((1 - confidence) / 2) * Math.sqrt(Math.max(0, variance));
  const upper = Math.min(roundHalfEven((slopes.length + reach) / 2), slopes.length - 1);
  const lower = Math.max(roundHalfEven((slopes.length - reach) / 2) - 1, 0);
  return {
    slope,
    intercept: median(y) - slope * median(x),
    low: variance > 0 ? slopes[lower]! : null,
    high: variance > 0 ? slopes[upper]! : null,
  };
}

/**
 * Interval of the Theil-Sen slope when each run resembles the one before: scatter with the same lag-1 correlation is
 * put on the line again and again and the line fitted anew (residual bootstrap, Efron and Tibshirani 1993, ch. 9).
 * Never narrower than Sen's interval. Assumes about even spacing.
 */
export function slopeInterval(
  x: readonly number[],
  y: readonly number[],
  options: { confidence?: number; resamples: number; next: Random },
): { low: number; high: number } {
  const confidence = options.confidence ?? 0.95;
  const line = theilSen(x, y, confidence);
  const n = x.length;
  // A fitted line takes scatter away from the residuals: n - 2 of n parts are left.
  const grow = Math.sqrt(n / Math.max(1, n - 2));
  const residuals = y.map((value, i) => (value - line.intercept - line.slope * x[i]!) * grow);
  const r = lag1(residuals, 2);
  const gauss = gaussian(options.next);
  const slopes = new Float64Array(options.resamples);
  for (let b = 0; b < options.resamples; b++) {
    const scatter = autoregressiveResample(residuals, r, options.next, gauss);
    slopes[b] = quantileOfSorted(
      pairSlopes(
        x,
        x.map((at, i) => line.slope * at + scatter[i]!),
      ),
      0.5,
    );
  }
  slopes.sort();
  const tail = (1 - confidence) / 2;
  return {
    low: Math.min(line.low ?? line.slope, quantileOfSorted(slopes, tail)),
    high: Math.max(line.high ?? line.slope, quantileOfSorted(slopes, 1 - tail)),
  };
}

/** Slopes of all pairs with different x, in rising order. */
function pairSlopes(x: readonly number[], y: readonly number[]): Float64Array {
  if (x.length !== y.length) {
    throw new RangeError(`a slope needs as many x as y, got ${x.length} and ${y.length}`);
  }
  const slopes = new Float64Array((x.length * (x.length - 1)) / 2);
  let count = 0;
  for (let i = 1; i < x.length; i++) {
    for (let j = 0; j < i; j++) {
      if (x[i] !== x[j]) slopes[count++] = (y[i]! - y[j]!) / (x[i]! - x[j]!);
    }
  }
  if (count === 0) throw new RangeError(`a slope needs two different instants, got ${x.length} points`);
  return slopes.subarray(0, count).sort();
}

/** Sizes of the groups of equal values. */
export function repeats(values: readonly number[]): number[] {
  const sizes = new Map<number, number>();
  for (const value of values) sizes.set(value, (sizes.get(value) ?? 0) + 1);
  return [...sizes.values()].filter((size) => size > 1);
}

/** numpy.round: halves go to the even neighbour. */
function roundHalfEven(value: number): number {
  const floor = Math.floor(value);
  const rest = value - floor;
  if (rest !== 0.5) return Math.round(value);
  return floor % 2 === 0 ? floor : floor + 1;
}
