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
/** Windows this far below the loudest of a band, dB, are without its noise: a tone that sweeps has moved on. */
const ACTIVE_DB = 10;

/**
 * How much louder one location is than another in a band. Without quiet windows the windows are compared one by one
 * and the middle difference counts: what makes both louder at once, and a knock at one of them in a single window,
 * then cancel. Windows in which the band is silent at both do not take part. The standard error of a median is 1.25
 * times that of a mean (Gaussian scatter).
 */
export function difference(a: LocationBand, b: LocationBand, paired: boolean): Difference {
  const theory = Math.hypot(a.randomDb, b.randomDb);
  const db = levelOfPower(a.power) - levelOfPower(b.power);
  if (!paired) return { db, randomDb: theory, atLeast: b.atMost };
  const active = activeWindows(a, b);
  if (active.length < LEAST_WINDOWS) {
    // Means over power are led by the loudest windows anyway.
    return { db, randomDb: theory * Math.sqrt(a.windowDb.length / active.length), atLeast: false };
  }
  const byWindow = active.map((w) => a.windowDb[w]! - b.windowDb[w]!);
  const spread = (1.2533 * robustSd(byWindow)) / Math.sqrt(active.length);
  return { db: median(byWindow), randomDb: Math.max(theory, spread), atLeast: false };
}

function activeWindows(a: LocationBand, b: LocationBand): number[] {
  const louder = Array.from(a.windowDb, (level, w) => Math.max(level, b.windowDb[w]!));
  const least = Math.max(...louder) - ACTIVE_DB;
  return louder.flatMap((level, w) => (level >= least ? [w] : []));
}
