import { kendall } from './mann-kendall.ts';
import { levelDb, mad, median, robustSd } from './robust.ts';
import { theilSen } from './theil-sen.ts';

/** The level of one accepted run: positive, in the value's own unit. */
export interface Level {
  timeMs: number;
  value: number;
}

export interface Baseline {
  known: true;
  /** Runs it is made of. */
  runs: number;
  fromMs: number;
  toMs: number;
  median: number;
  /** Median absolute deviation of the runs, unscaled, in the value's unit. */
  mad: number;
  /** Standard deviation from run to run, dB, from the MAD. */
  spreadDb: number;
  /** The runs were rising already: what counts as normal may be worn. */
  rising: boolean;
  /** Runs passed over before it because the level was still falling (bedding in). */
  passedOver: number;
}

export interface NoBaseline {
  known: false;
  runsMissing: number;
  reason: 'too-few-runs' | 'bedding-in';
}

export interface BaselineRules {
  /** Fewest runs. */
  least: number;
  /** More runs are used as they come, up to this many; after that the baseline stands. */
  most: number;
}

/** Eight is the least from which a spread can be told; twelve narrows it before wear has had time to creep in. */
export const BASELINE_RULES: BaselineRules = { least: 8, most: 12 };

/** Levels are stored rounded and sensors repeat to about 1 % (0.1 dB): no spread is believed to be smaller. */
const LEAST_SPREAD_DB = 0.1;
/** A fall of the level over the runs of a baseline that is worth waiting out, dB (12 %). */
const BEDDING_IN_DB = 1;
/** Baselines tried before a level that falls for ever is taken as it is. */
const MOST_PASSED_OVER = 40;

/**
 * What is normal here: median and scatter of the first accepted runs of one bin on one mount.
 *
 * New or newly greased parts often fall to a steady level first; a baseline from there would hide later wear. So while
 * the runs show a clear fall (Mann-Kendall, 5 %, and 1 dB or more), the baseline starts one run later. A rise is not
 * waited out, for it may be the wear that is looked for; it is reported.
 *
 * @param levels accepted runs in order of time, all alike (same bin, same stretch)
 */
export function baseline(
  levels: readonly Level[],
  rules: BaselineRules = BASELINE_RULES,
): Baseline | NoBaseline {
  if (levels.length < rules.least) {
    return { known: false, runsMissing: rules.least - levels.length, reason: 'too-few-runs' };
  }
  for (let start = 0; start <= MOST_PASSED_OVER; start++) {
    const runs = levels.slice(start, start + rules.most);
    if (runs.length < rules.least) {
      return { known: false, runsMissing: rules.least - runs.length, reason: 'bedding-in' };
    }
    const trend = direction(runs);
    if (trend < 0 && start < MOST_PASSED_OVER) continue;
    const middle = median(runs.map(({ value }) => value));
    const spread = robustSd(runs.map(({ value }) => levelDb(value, middle)));
    return {
      known: true,
      runs: runs.length,
      fromMs: runs[0]!.timeMs,
      toMs: runs.at(-1)!.timeMs,
      median: middle,
      mad: mad(runs.map(({ value }) => value)),
      spreadDb: Math.max(LEAST_SPREAD_DB, spread),
      rising: trend > 0,
      passedOver: start,
    };
  }
  throw new RangeError('unreachable: the last start is always taken');
}

/**
 * -1 falling, 1 rising, 0 neither, by more than chance and more than `BEDDING_IN_DB` over the runs. Without allowance for
 * runs alike: a curved fall looks like that, and a fall seen where none is only costs a few runs.
 */
function direction(runs: readonly Level[]): number {
  const times = runs.map(({ timeMs }) => timeMs);
  const db = runs.map(({ value }) => levelDb(value, runs[0]!.value));
  if (kendall(times, db).pValue > 0.05) return 0;
  const change = theilSen(times, db).slope * (times.at(-1)! - times[0]!);
  return Math.abs(change) < BEDDING_IN_DB ? 0 : Math.sign(change);
}
