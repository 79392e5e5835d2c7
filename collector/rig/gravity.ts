import type { Flag, Reading } from '../model.ts';
import type { Vector } from './vector.ts';

/** Samples are missing, cut off or made up: their mean is not the mean of what the sensor felt. */
const SPOILS_MEAN: readonly Flag[] = ['clipped', 'gap', 'stuck', 'unknown-scale'];

/**
 * Mean acceleration of a reading of a three-axis sensor, in the sensor's axes; null when an axis is missing or the
 * block does not hold a true mean.
 */
export function gravityOf(reading: Pick<Reading, 'axes' | 'flags'>): Vector | null {
  if (reading.flags.some((flag) => SPOILS_MEAN.includes(flag))) return null;
  const mean = (name: 'x' | 'y' | 'z') => reading.axes.find(({ axis }) => axis === name)?.meanMPerS2 ?? null;
  const [x, y, z] = [mean('x'), mean('y'), mean('z')];
  return x === null || y === null || z === null ? null : [x, y, z];
}
