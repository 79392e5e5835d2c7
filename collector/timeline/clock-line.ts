import type { ExchangePoint } from './clock-map.ts';

export interface ClockLine {
  /** Station minus node at the moment asked for, µs. */
  offsetUs: number;
  /** Growth of the offset per µs of node clock. */
  skew: number;
  /** No possible line is further from `offsetUs` than this. */
  errorUs: number;
}

/** Clock crystals of cheap boards: within about 50 parts per million (common practice, no source). */
const SKEW_SD = 30e-6;
const LARGEST_SKEW = 150e-6;
/** Bounds loosen by this share of their distance in time: drift that is no straight line. */
const DRIFT = 2e-6;
/** What scheduling and rounding at both ends may do beyond the measured bounds. */
const FLOOR_US = 100;
const STEPS = 16;

/**
 * Mean over all lines between the bounds offset - roundTrip/2 and offset + roundTrip/2 of every point, weighted by
 * a normal prior on the skew: E[x] = integral x(s) width(s) prior(s) ds / integral width(s) prior(s) ds, where
 * width(s) is the length of the span of offsets possible with skew s. `width` is concave, so its maximum and the
 * skews at which it ends are found by bisection.
 */
export function meanLine(points: readonly ExchangePoint[], atUs: number): ClockLine {
  const base = points[0]!.offsetUs;
  /** Span of offsets (beside `base`) that are possible with a skew; empty when `high < low`. */
  const span = (skew: number) => {
    let low = Number.NEGATIVE_INFINITY;
    let high = Number.POSITIVE_INFINITY;
    for (const { nodeUs, offsetUs, roundTripUs } of points) {
      const dt = nodeUs - atUs;
      const carried = offsetUs - base - skew * dt;
      const slack = roundTripUs / 2 + DRIFT * Math.abs(dt);
      if (carried - slack > low) low = carried - slack;
      if (carried + slack < high) high = carried + slack;
    }
    return { low, high };
  };
  const width = (skew: number) => {
    const { low, high } = span(skew);
    return high - low;
  };

  const widest = maximum(width, -LARGEST_SKEW, LARGEST_SKEW);
  if (width(widest) <= 0) {
    // Bounds that cross: the drift was larger than allowed for, and the line stands between them.
    const { low, high } = span(widest);
    return { offsetUs: base + (low + high) / 2, skew: widest, errorUs: (low - high) / 2 + FLOOR_US };
  }
  const from = edge(width, widest, -LARGEST_SKEW);
  const to = edge(width, widest, LARGEST_SKEW);
  let weights = 0;
  let offsets = 0;
  let skews = 0;
  let lowest = Number.POSITIVE_INFINITY;
  let highest = Number.NEGATIVE_INFINITY;
  for (let step = 0; step < STEPS; step++) {
    const skew = from + ((step + 0.5) / STEPS) * (to - from);
    const { low, high } = span(skew);
    if (high <= low) continue;
    const weight = (high - low) * Math.exp(-0.5 * (skew / SKEW_SD) ** 2);
    weights += weight;
    offsets += (weight * (low + high)) / 2;
    skews += weight * skew;
    lowest = Math.min(lowest, low);
    highest = Math.max(highest, high);
  }
  const offset = offsets / weights;
  return {
    offsetUs: base + offset,
    skew: skews / weights,
    errorUs: Math.max(highest - offset, offset - lowest) + FLOOR_US,
  };
}

/** Where a concave function is largest, by ternary search. */
function maximum(f: (x: number) => number, from: number, to: number): number {
  let [low, high] = [from, to];
  for (let round = 0; round < 30; round++) {
    const third = (high - low) / 3;
    if (f(low + third) < f(high - third)) low += third;
    else high -= third;
  }
  return (low + high) / 2;
}

/** Where the function, positive at `inside`, falls to 0 on the way to `limit`. */
function edge(f: (x: number) => number, inside: number, limit: number): number {
  if (f(limit) > 0) return limit;
  let [positive, other] = [inside, limit];
  for (let round = 0; round < 20; round++) {
    const middle = (positive + other) / 2;
    if (f(middle) > 0) positive = middle;
    else other = middle;
  }
  return positive;
}
