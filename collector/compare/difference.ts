import { median, robustSd } from '../trend/robust.ts';
import { levelOfPower } from './band-power.ts';
import type { LocationBand } from './level-table.ts';

export interface Difference {
  /** Level of the first location above the second, dB. */
  db: number;
  /** Standard deviation of `db` from chance alone, without the sensors' tolerance. */
  randomDb: number;
  /** True where the second location's level is only known to be at most so high: the difference is at least `db`. */
  atLeast: boolean;
}

/** Fewer windows than this say nothing of their scatter. */
const LEAST_WINDOWS = 5;

/**
 * How much louder one location is than another in a band. Without quiet windows the windows are compared one by one
 * and the middle difference counts: what makes both louder at once, and a knock at one of them in a single window,
 * then cancel. The standard error of a median is 1.25 times that of a mean (Gaussian scatter).
 */
export function difference(a: LocationBand, b: LocationBand, paired: boolean): Difference {
  const theory = Math.hypot(a.randomDb, b.randomDb);
  const count = a.windowDb.length;
  if (!paired || count < LEAST_WINDOWS) {
    return { db: levelOfPower(a.power) - levelOfPower(b.power), randomDb: theory, atLeast: b.atMost };
  }
  const byWindow = Array.from(a.windowDb, (level, w) => level - b.windowDb[w]!);
  const spread = (1.2533 * robustSd(byWindow)) / Math.sqrt(count);
  return { db: median(byWindow), randomDb: Math.max(theory, spread), atLeast: false };
}
