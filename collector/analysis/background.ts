import { createScratch } from '../dsp/scratch.ts';

/**
 * Local background of a power spectrum: what a line is held against. A median over the neighbourhood, because
 * the lines themselves (under half of the neighbours) hardly move it.
 */

/** Running median over `halfWidth` lines to each side, worked out every half of that and joined by straight lines. */
export function runningMedian(power: Float64Array, halfWidth: number): Float64Array {
  const n = power.length;
  const reach = Math.max(1, Math.min(halfWidth, n));
  const hop = Math.max(1, reach >> 1);
  const result = new Float64Array(n);
  let lastAt = 0;
  let lastValue = medianAround(power, 0, reach);
  result[0] = lastValue;
  for (let at = hop; lastAt < n - 1; at += hop) {
    const next = Math.min(at, n - 1);
    const value = medianAround(power, next, reach);
    for (let k = lastAt + 1; k <= next; k++) {
      result[k] = lastValue + ((value - lastValue) * (k - lastAt)) / (next - lastAt);
    }
    lastAt = next;
    lastValue = value;
  }
  return result;
}

const room = createScratch();

function medianAround(power: Float64Array, centre: number, reach: number): number {
  const from = Math.max(0, centre - reach);
  const part = room(Math.min(power.length, centre + reach + 1) - from);
  for (let k = 0; k < part.length; k++) part[k] = power[from + k]!;
  const upper = part.length >> 1;
  const value = part.length <= SHORT ? sort(part)[upper]! : select(part, upper);
  if (part.length % 2 === 1) return value;
  // select() leaves everything below the upper middle to its left.
  let lower = part[0]!;
  for (let k = 1; k < upper; k++) if (part[k]! > lower) lower = part[k]!;
  return (lower + value) / 2;
}

/** Up to so many values insertion is the quickest way to sort. */
const SHORT = 16;

function sort(values: Float64Array): Float64Array {
  for (let i = 1; i < values.length; i++) {
    const value = values[i]!;
    let at = i;
    for (; at > 0 && values[at - 1]! > value; at--) values[at] = values[at - 1]!;
    values[at] = value;
  }
  return values;
}

/** The value that would stand at `place` if sorted, by Hoare's selection: several times faster than sorting. */
function select(values: Float64Array, place: number): number {
  let left = 0;
  let right = values.length - 1;
  while (left < right) {
    const pivot = values[(left + right) >> 1]!;
    let i = left;
    let j = right;
    while (i <= j) {
      while (values[i]! < pivot) i++;
      while (values[j]! > pivot) j--;
      if (i > j) break;
      const swap = values[i]!;
      values[i] = values[j]!;
      values[j] = swap;
      i++;
      j--;
    }
    if (place <= j) right = j;
    else if (place >= i) left = i;
    else break;
  }
  return values[place]!;
}

/** Median over mean of the average of `averages` independent power lines of noise (gamma distributed). */
export function medianOverMean(averages: number): number {
  // Exact for one average (ln 2); Wilson-Hilferty beyond, within 0.5 %.
  return averages < 1.5 ? Math.LN2 : (1 - 1 / (9 * averages)) ** 3;
}

/**
 * -ln of the chance that noise reaches `ratio` times its mean, for the average of `averages` independent power
 * lines: -ln Q(K, K ratio) with Q the regularised upper incomplete gamma function; for whole K
 * Q(K, x) = exp(-x) sum_{i<K} x^i / i! (Abramowitz and Stegun 6.5.13).
 */
export function lineEvidence(ratio: number, averages: number): number {
  const x = averages * ratio;
  let term = 1;
  let sum = 1;
  for (let i = 1; i < averages; i++) {
    term *= x / i;
    sum += term;
    if (sum > 1e200) return Math.max(0, x - lnPartialSum(x, averages));
  }
  return Math.max(0, x - Math.log(sum));
}

function lnPartialSum(x: number, averages: number): number {
  let lnTerm = 0;
  let lnSum = 0;
  for (let i = 1; i < averages; i++) {
    lnTerm += Math.log(x / i);
    const high = Math.max(lnSum, lnTerm);
    lnSum = high + Math.log(Math.exp(lnSum - high) + Math.exp(lnTerm - high));
  }
  return lnSum;
}

/** -ln of the chance that the greatest of `tries` lines shows this evidence by chance. */
export function evidenceOfGreatest(evidence: number, tries: number): number {
  const p = Math.exp(-evidence);
  const tail = p < 1e-6 ? evidence - Math.log(tries) : -Math.log(-Math.expm1(tries * Math.log1p(-p)));
  return Math.max(0, tail);
}

/** -ln of the chance that the sum of `count` independent unit exponentials reaches `sum`: Fisher's way to join evidence. */
export function jointEvidence(sum: number, count: number): number {
  return lineEvidence(sum / count, count);
}
