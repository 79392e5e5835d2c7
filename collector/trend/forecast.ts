import type { Level } from './baseline.ts';
import { firstPassages } from './first-passage.ts';
import { growthMembers } from './growth-members.ts';
import { trendTest } from './mann-kendall.ts';
import { normalBelow } from './normal.ts';
import { uniform } from './random.ts';
import { levelDb, median, quantileOfSorted } from './robust.ts';

export interface ForecastQuestion {
  /** Accepted runs of one bin and stretch, or a trend index, in order of time. */
  levels: readonly Level[];
  /** The level asked for, in the levels' unit. */
  limit: number;
  /** Median of the baseline, in the same unit. */
  baselineMedian: number;
  /** Same question and seed, same answer. */
  seed?: number;
}

export type CannotSay =
  | 'too-few-runs'
  | 'no-significant-rise'
  /** It rose, and its pace now can no longer be told from rest. */
  | 'no-longer-rising'
  /** More is still missing to the limit than has been seen of the rise. */
  | 'limit-too-far'
  /** Later than is worth naming, or perhaps never. */
  | 'no-end-in-sight';

export type Forecast =
  | {
      kind: 'range';
      /** The limit is expected between these, with 80 % confidence (see the calibration). */
      fromMs: number;
      toMs: number;
      middleMs: number;
      runs: number;
    }
  | { kind: 'reached'; sinceMs: number }
  | { kind: 'cannot-say-yet'; reason: CannotSay; runs: number };

/** Runs that the rise must be seen in. */
const LEAST_RUNS = 12;
/** Significance of the rise (Mann-Kendall with pre-whitening). */
const LEAST_SIGNIFICANCE = 0.05;
/** As much rise must be seen as is still missing. */
const MOST_REACH = 1;
/** Belief needed that the level still rises at the last run. */
const STILL_RISING = 0.9;
/** Dates are named up to three windows ahead. */
const HORIZON = 3;
/**
 * Places in the ensemble that hold 80 % of the true dates. An ensemble's own tenth and ninetieth part do not: its laws
 * are not those of real parts, which turn faster unannounced more often than they slow down. Chosen on simulated lives
 * by many wear laws, most of which break the ensemble's assumptions (jumps, rest and run-away, healing, wandering
 * crack growth). The range holds about 80 % over all of them together: more for smooth accelerating wear, and less
 * for wear that heals, jumps or runs away after a rest.
 */
const EARLY = 0.03;
const LATE = 0.84;
/** The rise counts from where the level last stood this low, as a part of the rise. */
const ONSET_SHARE = 0.15;

/**
 * When will the level reach the limit? A range of dates where the data carry one, else the reason why not.
 *
 * No law of wear is assumed: an ensemble of shapes of growth (linear, exponential, run-away), each with a level and a
 * pace that wander as much as they did so far and may turn faster unannounced, is followed to the limit.
 */
export function forecast(question: ForecastQuestion): Forecast {
  const { limit, baselineMedian } = question;
  const limitDb = levelDb(limit, baselineMedian);
  const all = question.levels.map(({ value }) => levelDb(value, baselineMedian));
  const allSmooth = all.map((_, i) => median(all.slice(Math.max(0, i - 2), i + 3)));
  const cannot = (reason: CannotSay): Forecast => ({ kind: 'cannot-say-yet', reason, runs: all.length });
  if (all.length < LEAST_RUNS) return cannot('too-few-runs');
  const nowDb = median(all.slice(-3));
  if (nowDb >= limitDb)
    return { kind: 'reached', sinceMs: reachedSince(question.levels, allSmooth, limitDb) };

  const from = windowStart(question.levels, allSmooth, nowDb);
  const levels = question.levels.slice(from);
  const db = all.slice(from);
  const times = levels.map(({ timeMs }) => timeMs);
  const test = trendTest(times, db);
  if (test.tau === null || test.tau <= 0 || test.pValue > LEAST_SIGNIFICANCE)
    return cannot('no-significant-rise');
  if (limitDb - nowDb > MOST_REACH * nowDb) return cannot('limit-too-far');

  const [startMs, endMs] = [times[0]!, times.at(-1)!];
  const windowMs = endMs - startMs;
  const members = growthMembers(
    times.map((timeMs) => (timeMs - startMs) / windowMs),
    db,
    allSmooth.slice(from),
  );
  const rising = members.reduce(
    (sum, { weight, state }) => sum + weight * normalBelow(state.slope / Math.sqrt(state.pSlope)),
    0,
  );
  if (rising < STILL_RISING) return cannot('no-longer-rising');
  const passages = firstPassages(members, limitDb, HORIZON, uniform(question.seed ?? 1));
  const late = quantileOfSorted(passages, LATE);
  if (!Number.isFinite(late)) return cannot('no-end-in-sight');
  const date = (share: number) => endMs + quantileOfSorted(passages, share) * windowMs;
  return { kind: 'range', fromMs: date(EARLY), middleMs: date(0.5), toMs: date(LATE), runs: db.length };
}

/**
 * Where the part of the past begins that tells about the rise: as long before its onset as the rise has lasted. Years
 * of rest before would otherwise set the scale of time for everything. Never fewer than `LEAST_RUNS` runs.
 */
function windowStart(levels: readonly Level[], smooth: readonly number[], nowDb: number): number {
  let onset = 0;
  smooth.forEach((value, i) => {
    if (value <= ONSET_SHARE * nowDb) onset = i;
  });
  const endMs = levels.at(-1)!.timeMs;
  const fromMs = 2 * levels[onset]!.timeMs - endMs;
  const start = levels.findIndex(({ timeMs }) => timeMs >= fromMs);
  return Math.max(0, Math.min(start, levels.length - LEAST_RUNS));
}

function reachedSince(levels: readonly Level[], smooth: readonly number[], limitDb: number): number {
  let first = levels.length - 1;
  while (first > 0 && smooth[first - 1]! >= limitDb) first--;
  return levels[first]!.timeMs;
}
