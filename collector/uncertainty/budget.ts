/**
 * Uncertainty of one velocity value, after the "Guide to the expression of uncertainty in measurement" (JCGM
 * 100:2008): standard uncertainties of independent causes are added in squares; the expanded uncertainty is twice
 * the sum's root and holds the true value in about 95 of 100 cases. All parts are relative (1 = the value itself).
 */

/** Limits of error of a sensor as it is mounted; each is the half-width of a rectangle (u = limit / sqrt 3). */
export interface SensorLimits {
  /** Sensitivity against its nominal value. 5 %: common practice for uncalibrated MEMS parts, no source. */
  sensitivity: number;
  /** Motion across the axis that is read as if along it. 3 %: common practice, no source. */
  crossAxis: number;
  /** Sensitivity over a workshop's range of temperature. 2 %: common practice, no source. */
  temperature: number;
  /**
   * Rise towards the resonance of a clamp: at f it reads 1 / (1 - (f/fr)²) too high (ISO 5348 on mounting, from
   * memory). 2 %: a level led by 430 Hz and below on a clamp of 3 kHz.
   */
  mounting: number;
}

export const DEFAULT_LIMITS: SensorLimits = {
  sensitivity: 0.05,
  crossAxis: 0.03,
  temperature: 0.02,
  mounting: 0.02,
};

export interface VelocityUncertainty {
  /** Twice the combined standard uncertainty, in mm/s. */
  expandedMmPerS: number;
  /** The causes as relative standard uncertainties. */
  parts: Record<'sensor' | 'noise' | 'bandEdges' | 'random', number>;
}

export interface UncertaintyQuestion {
  velocityRmsMmPerS: number;
  /** Relative standard deviation of the RMS by chance: see collector/analysis/random-error.ts. */
  randomError: number;
  /** Velocity that the sensor's own noise reads; 0 when not known. */
  noiseFloorMmPerS: number;
  /** Half-width of the relative error by the band's edges: the filter's difference from a sharp band. */
  bandEdgeLimit: number;
  limits: SensorLimits;
}

/** A value that is 0 or not finite has no relative uncertainty: null. */
export function velocityUncertainty(question: UncertaintyQuestion): VelocityUncertainty | null {
  const { velocityRmsMmPerS: value, randomError, noiseFloorMmPerS, bandEdgeLimit, limits } = question;
  if (!(value > 0) || !Number.isFinite(value) || !Number.isFinite(randomError)) return null;
  const sensor = rectangular(Math.hypot(...Object.values(limits)));
  // Noise adds to the mean square: value² = true² + noise², so the value may be up to this much too high.
  const noiseShare = Math.min(1, (noiseFloorMmPerS / value) ** 2);
  const noise = rectangular(1 - Math.sqrt(1 - noiseShare));
  const bandEdges = rectangular(bandEdgeLimit);
  const combined = Math.hypot(sensor, noise, bandEdges, randomError);
  return { expandedMmPerS: 2 * combined * value, parts: { sensor, noise, bandEdges, random: randomError } };
}

function rectangular(halfWidth: number): number {
  return halfWidth / Math.sqrt(3);
}
