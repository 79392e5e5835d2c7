/**
 * Velocity RMS of a sensor's own noise of flat acceleration density n over the band f1 to f2:
 * v² = integral of (n / (2 pi f))² df, so v = n / (2 pi) sqrt(1/f1 - 1/f2). In mm/s for n in m/s² per root Hz.
 */
export function velocityNoiseFloorMmPerS(
  noiseDensityMPerS2PerRtHz: number,
  [lowHz, topHz]: readonly [number, number],
): number {
  return (1000 * noiseDensityMPerS2PerRtHz * Math.sqrt(1 / lowHz - 1 / topHz)) / (2 * Math.PI);
}

/** A reading is below the floor when its power less the noise's is smaller than the noise's: under sqrt(2) x floor. */
export function isBelowNoiseFloor(velocityRmsMmPerS: number, floorMmPerS: number): boolean {
  return velocityRmsMmPerS < Math.SQRT2 * floorMmPerS;
}
