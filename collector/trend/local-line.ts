/**
 * A line whose level and slope wander, followed by a Kalman filter.
 *
 * "Local linear trend" of Harvey (1989, "Forecasting, structural time series models and the Kalman filter", 2.3.2), in
 * continuous time so that runs may be unevenly spaced (his 9.1): d level = slope dt + r dW1, d slope = q dW2. With q = r
 * = 0 it is a straight line by least squares. It does not claim that wear follows a law: how much the slope changed so
 * far tells how much it may still change.
 */

export interface Wander {
  /** Variance of the level's own steps, per unit of time. */
  level: number;
  /** Variance of the slope's steps, per unit of time. */
  slope: number;
}

export interface LineState {
  level: number;
  slope: number;
  /** Covariance. */
  pLevel: number;
  pCross: number;
  pSlope: number;
}

/** Innovations beyond three standard deviations get the weight they would have at three (Huber): one wild run. */
const HUBER = 3;

/** Moves the state `dt` on. */
export function drift(s: LineState, dt: number, wander: Wander): LineState {
  return {
    level: s.level + s.slope * dt,
    slope: s.slope,
    pLevel:
      s.pLevel + 2 * dt * s.pCross + dt * dt * s.pSlope + (wander.slope * dt ** 3) / 3 + wander.level * dt,
    pCross: s.pCross + dt * s.pSlope + (wander.slope * dt * dt) / 2,
    pSlope: s.pSlope + wander.slope * dt,
  };
}

/**
 * Follows the line through the points.
 *
 * @param noiseSd of each point
 * @param slopeSd before anything is known: the slope is this uncertain
 * @param scored points from this place on count in the likelihood: the first ones only find the line
 * @returns the state at the last point, and the logarithm of the likelihood of the points scored
 */
export function followLine(
  time: readonly number[],
  value: readonly number[],
  noiseSd: readonly number[],
  wander: Wander,
  slopeSd: number,
  scored: number,
): { state: LineState; logLikelihood: number } {
  let s: LineState = {
    level: value[0]!,
    slope: 0,
    pLevel: (10 * noiseSd[0]!) ** 2,
    pCross: 0,
    pSlope: slopeSd ** 2,
  };
  let logLikelihood = 0;
  for (let i = 0; i < time.length; i++) {
    if (i > 0) s = drift(s, time[i]! - time[i - 1]!, wander);
    const error = value[i]! - s.level;
    const variance = s.pLevel + noiseSd[i]! ** 2;
    const used = Math.max(variance, (error / HUBER) ** 2);
    if (i >= scored) {
      const z = Math.abs(error) / Math.sqrt(variance);
      // Huber's density: Gaussian in the middle, exponential tails.
      const penalty = z <= HUBER ? (z * z) / 2 : HUBER * z - (HUBER * HUBER) / 2;
      logLikelihood -= penalty + Math.log(variance) / 2;
    }
    const gainLevel = s.pLevel / used;
    const gainSlope = s.pCross / used;
    s = {
      level: s.level + gainLevel * error,
      slope: s.slope + gainSlope * error,
      pLevel: s.pLevel - gainLevel * s.pLevel,
      pCross: s.pCross - gainLevel * s.pCross,
      pSlope: s.pSlope - gainSlope * s.pCross,
    };
  }
  return { state: s, logLikelihood };
}
