import { DEFAULT_LIMITS } from './budget.ts';

/**
 * Expanded uncertainty of a velocity, made with the default limit of sensitivity, as it is for a sensor whose own
 * limit is known: twice the root of the sum of squares, with that one part replaced (budget.ts).
 *
 * @param sensitivity half-width, relative: 0.03 for a tolerance of 3 %
 */
export function forKnownSensor(
  velocityRmsMmPerS: number,
  expandedMmPerS: number,
  sensitivity: number,
): number {
  const change = (sensitivity ** 2 - DEFAULT_LIMITS.sensitivity ** 2) / 3;
  return Math.sqrt(Math.max(0, expandedMmPerS ** 2 + 4 * velocityRmsMmPerS ** 2 * change));
}

/**
 * What a sensor as it is mounted adds to every level, alike for all of one mount: expanded (k = 2), relative. It moves
 * a whole trend and not its course, so it counts against a zone boundary and not against the own baseline.
 *
 * @param sensitivity half-width of its own limit where that is known, relative
 */
export function mountedSensorUncertainty(sensitivity = DEFAULT_LIMITS.sensitivity): number {
  return (2 * Math.hypot(...Object.values({ ...DEFAULT_LIMITS, sensitivity }))) / Math.sqrt(3);
}
