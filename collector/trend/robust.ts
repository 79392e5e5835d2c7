/**
 * Statistics that one bad run cannot bend, and resampling that respects runs resembling their neighbours in time.
 */
import type { Random } from './random.ts';

/** Middle value; mean of the two middle ones for an even number. @throws RangeError when empty */
export function median(values: readonly number[]): number {
  return quantile(values, 0.5);
}

/**
 * Quantile with linear interpolation between order statistics (Hyndman and Fan 1996, type 7; numpy's default).
 *
 * @param share 0 (smallest) to 1 (largest)
 * @throws RangeError when there are no values
 */
export function quantile(values: readonly number[], share: number): number {
  if (values.length === 0) throw new RangeError('a quantile needs at least one value, got none');
  return quantileOfSorted(Float64Array.from(values).sort(), share);
}

/** `quantile` of values already in rising order. */
export function quantileOfSorted(sorted: ArrayLike<number>, share: number): number {
  const place = (sorted.length - 1) * share;
  const low = Math.floor(place);
  const at = sorted[low]!;
  return low + 1 < sorted.length ? at + (place - low) * (sorted[low + 1]! - at) : at;
}

/** Median absolute deviation from the median, unscaled (Hampel 1974). @throws RangeError when empty */
export function mad(values: readonly number[]): number {
  const middle = median(values);
  return median(values.map((value) => Math.abs(value - middle)));
}

/** Makes the MAD of n Gaussian values unbiased for the standard deviation, n = 2..9 (Croux and Rousseeuw 1992; from memory). */
const SMALL_SAMPLE = [1.196, 1.495, 1.363, 1.206, 1.2, 1.14, 1.129, 1.107];

/**
 * Standard deviation estimated from the MAD: 1.4826 x MAD x small-sample factor.
 * For two values or more; 0 when more than half of them are equal.
 */
export function robustSd(values: readonly number[]): number {
  const n = values.length;
  if (n < 2) throw new RangeError(`a spread needs at least two values, got ${n}`);
  return 1.482602218505602 * mad(values) * (n < 10 ? SMALL_SAMPLE[n - 2]! : n / (n - 0.8));
}

/**
 * Correlation of each value with the next, of values that scatter about a fitted centre or line.
 *
 * The plain estimate is too low for short series: its expected value is about r - (1 + 4r)/n about a mean
 * (Marriott and Pope 1954; Kendall 1954) and about r - (2 + 4r)/n about a line. This solves for r, and holds it in
 * 0..0.95: runs that alternate would otherwise buy significance, which no wear earns.
 *
 * @param fitted parameters already taken out: 1 for a centre, 2 for a line
 */
export function lag1(residuals: readonly number[], fitted = 1): number {
  const n = residuals.length;
  if (n < 4) return 0;
  const mean = residuals.reduce((sum, value) => sum + value, 0) / n;
  let products = 0;
  let squares = 0;
  for (let i = 0; i < n; i++) {
    squares += (residuals[i]! - mean) ** 2;
    if (i > 0) products += (residuals[i]! - mean) * (residuals[i - 1]! - mean);
  }
  if (squares === 0) return 0;
  const raw = products / squares;
  return Math.min(0.95, Math.max(0, (raw + fitted / n) / (1 - 4 / n)));
}

/**
 * Takes a lag-1 correlation out: (x[t] - r x[t-1]) / (1 - r). Slopes and steps keep their size, scatter becomes
 * independent when it is a first-order autoregression (von Storch 1995; scaling of Wang and Swail 2001; from memory).
 */
export function preWhiten(values: readonly number[], r: number): number[] {
  return values.slice(1).map((value, i) => (value - r * values[i]!) / (1 - r));
}

/**
 * Length of block that a moving-block bootstrap needs for a first-order autoregression, from the rule for the variance
 * of a mean: (2r / (1 - r²))^(2/3) n^(1/3) x (3/2)^(1/3) (Carlstein 1986 for the first factor, Künsch 1989 for moving
 * blocks; from memory). At least 1, at most a third of the series.
 */
export function blockLength(count: number, r: number): number {
  const ideal = (1.5 * count) ** (1 / 3) * ((2 * r) / (1 - r * r)) ** (2 / 3);
  return Math.max(1, Math.min(Math.round(ideal), Math.floor(count / 3)));
}

/** One resample of moving blocks (Künsch 1989): places in the original series, `count` of them. */
export function blockResample(count: number, block: number, next: Random): number[] {
  const places: number[] = [];
  while (places.length < count) {
    const start = Math.floor(next() * (count - block + 1));
    for (let i = start; i < start + block && places.length < count; i++) places.push(i);
  }
  return places;
}

/**
 * One resample of scatter that resembles its neighbours, as a first-order autoregression: the innovations are drawn
 * with replacement, the correlation anew each time within its own uncertainty, sd sqrt((1 - r²) / n) (sieve bootstrap,
 * Bühlmann 1997; drawing r as in a Bayesian bootstrap is ours). For series of a dozen runs this holds its level far
 * better than moving blocks, which cannot be long and many at once.
 *
 * @param residuals scatter about a fit, in order of time
 * @param r their lag-1 correlation, corrected for the fit (`lag1`)
 */
export function autoregressiveResample(
  residuals: readonly number[],
  r: number,
  next: Random,
  gauss: Random,
): number[] {
  const n = residuals.length;
  const drawn = Math.min(0.95, Math.max(0, r + gauss() * Math.sqrt((1 - r * r) / n)));
  const innovation = () => {
    const at = 1 + Math.floor(next() * (n - 1));
    return residuals[at]! - r * residuals[at - 1]!;
  };
  // Scatter keeps its size whichever r was drawn.
  const keep = Math.sqrt((1 - drawn * drawn) / (1 - r * r));
  let value = residuals[Math.floor(next() * n)]!;
  return residuals.map(() => {
    value = drawn * value + keep * innovation();
    return value;
  });
}

/**
 * Bootstrap by moving blocks of any statistic of a series.
 *
 * @returns the statistic of each resample, in rising order
 */
export function blockBootstrap(
  values: readonly number[],
  statistic: (resample: number[]) => number,
  options: { block: number; resamples: number; next: Random },
): Float64Array {
  const out = new Float64Array(options.resamples);
  for (let b = 0; b < options.resamples; b++) {
    out[b] = statistic(blockResample(values.length, options.block, options.next).map((i) => values[i]!));
  }
  return out.sort();
}

/** Level above a reference in decibels: 20 log10(value / reference). */
export function levelDb(value: number, reference: number): number {
  return 20 * Math.log10(value / reference);
}

/** The ratio that a level difference in decibels stands for. */
export function ratioOfDb(db: number): number {
  return 10 ** (db / 20);
}
