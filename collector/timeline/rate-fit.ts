/**
 * Sample counter -> node clock, tracked sample packet by sample packet.
 *
 * A two-state Kalman filter (clock at the newest counter, microseconds per sample) with a random walk on the
 * rate is a least-squares line that forgets: exact for a constant rate, and it follows an oscillator that
 * warms up. Textbook form: Bar-Shalom, Li, Kirubarajan, "Estimation with Applications to Tracking and
 * Navigation" (2001), section 6.2 (from memory). Innovations beyond three standard deviations are given only
 * the weight they would have at three (Huber), so that one late clock reading does not bend the line.
 */

/** Serialisable: plain numbers. */
export interface RateFit {
  /** Counter the state stands at. */
  counter: number;
  /** Node clock at `counter`, µs. */
  clockUs: number;
  /** Microseconds of node clock per sample. */
  periodUs: number;
  /** Covariance: µs², µs²/sample, (µs/sample)². */
  pcc: number;
  pcp: number;
  ppp: number;
}

/** Standard deviation of the node's reading of its own clock when it stamps a packet. */
export const CLOCK_JITTER_US = 1000;
/** A replayed recording's clock is exact but for rounding to whole microseconds. */
export const REPLAY_JITTER_US = 0.5;
/** Random walk of the oscillator: relative, per square root of a second. */
const RATE_WALK = 2e-6;
const HUBER = 3;

/** `periodSd` is relative: 0.03 when only the nominal rate is known. */
export function startRateFit(
  counter: number,
  clockUs: number,
  rateHz: number,
  periodSd: number,
  jitterUs: number,
): RateFit {
  const periodUs = 1e6 / rateHz;
  return { counter, clockUs, periodUs, pcc: jitterUs ** 2, pcp: 0, ppp: (periodSd * periodUs) ** 2 };
}

/** How far the clock of a packet that begins at `counter` is from where the fit expects it: µs and its sd. */
export function innovation(fit: RateFit, counter: number, clockUs: number, jitterUs: number) {
  const n = counter - fit.counter;
  const variance = fit.pcc + 2 * n * fit.pcp + n * n * fit.ppp + jitterUs ** 2;
  return { us: clockUs - (fit.clockUs + n * fit.periodUs), sdUs: Math.sqrt(variance) };
}

/** Moves the fit on to `counter` (not before the last one) and takes in the clock read there. */
export function updateRateFit(fit: RateFit, counter: number, clockUs: number, jitterUs: number): void {
  const n = counter - fit.counter;
  if (n > 0) {
    const walk = (RATE_WALK * fit.periodUs) ** 2 * ((n * fit.periodUs) / 1e6);
    fit.clockUs += n * fit.periodUs;
    fit.pcc += 2 * n * fit.pcp + n * n * fit.ppp + (walk * n * n) / 3;
    fit.pcp += n * fit.ppp + (walk * n) / 2;
    fit.ppp += walk;
    fit.counter = counter;
  }
  const error = clockUs - fit.clockUs;
  const variance = Math.max(fit.pcc + jitterUs ** 2, (error / HUBER) ** 2);
  const gainClock = fit.pcc / variance;
  const gainPeriod = fit.pcp / variance;
  fit.clockUs += gainClock * error;
  fit.periodUs += gainPeriod * error;
  fit.ppp -= gainPeriod * fit.pcp;
  fit.pcp -= gainPeriod * fit.pcc;
  fit.pcc -= gainClock * fit.pcc;
}

export function clockAt(fit: RateFit, counter: number): number {
  return fit.clockUs + (counter - fit.counter) * fit.periodUs;
}

/** Fractional counter at a node clock. */
export function counterAt(fit: RateFit, clockUs: number): number {
  return fit.counter + (clockUs - fit.clockUs) / fit.periodUs;
}

/** Relative standard deviation of the fitted rate. */
export function relativeRateSd(fit: RateFit): number {
  return Math.sqrt(Math.max(0, fit.ppp)) / fit.periodUs;
}
