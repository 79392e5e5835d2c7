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
