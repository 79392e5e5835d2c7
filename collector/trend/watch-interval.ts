import type { Forecast } from './forecast.ts';

export interface WatchQuestion {
  nowMs: number;
  /** Time of the last accepted run; null before the first. */
  lastRunMs: number | null;
  forecast: Forecast;
  /** Level of the last runs (median), and the level at which the waiting ends, in one unit. */
  level: number | null;
  stopLevel: number;
  /** Upper end of the slope's interval, in that unit per millisecond; null when no slope is known. */
  slopeHigh: number | null;
  alertRaised: boolean;
  /** Runs that an alert needs before it is believed. */
  raiseRuns: number;
  /** Shortest and longest time between runs that the people agreed on. */
  shortestMs: number;
  longestMs: number;
}

export interface WatchInterval {
  everyMs: number;
  nextMs: number;
  /** Overdue when the next run lies before now. */
  overdueMs: number;
  /** What set the interval. */
  basis:
    | 'stop-level-reached'
    | 'forecast'
    | 'steepest-slope'
    | 'alert'
    | 'agreed-longest'
    | 'agreed-shortest';
}

/**
 * When to measure again. Waiting is safe only if the alert can still come before the limit: it needs `raiseRuns` runs,
 * and one more may fail, so the time to the earliest date the limit may be reached is cut in that many parts. That date
 * is the early end of the forecast's range, or, without a forecast, where the steepest slope the data allow would
 * reach the limit. An alert that is up halves the longest interval (common practice, no source). The people's shortest
 * and longest interval bound the result: without either date, the longest one holds.
 */
export function watchInterval(question: WatchQuestion): WatchInterval {
  const { nowMs, lastRunMs, level, stopLevel, shortestMs, longestMs } = question;
  if (!(shortestMs > 0 && longestMs >= shortestMs)) {
    throw new RangeError(
      `the shortest interval must be more than 0 and no longer than the longest, got ${shortestMs} and ${longestMs} ms`,
    );
  }
  const from = lastRunMs ?? nowMs;
  const result = (wantedMs: number, basis: WatchInterval['basis']): WatchInterval => {
    const everyMs = Math.min(longestMs, Math.max(shortestMs, wantedMs));
    const bound = everyMs > wantedMs ? 'agreed-shortest' : everyMs < wantedMs ? 'agreed-longest' : basis;
    const nextMs = lastRunMs === null ? nowMs : from + everyMs;
    return { everyMs, nextMs, overdueMs: Math.max(0, nowMs - nextMs), basis: bound };
  };
  if (question.forecast.kind === 'reached' || (level !== null && level >= stopLevel)) {
    return { ...result(shortestMs, 'stop-level-reached'), basis: 'stop-level-reached' };
  }
  const parts = question.raiseRuns + 1;
  const candidates: { ms: number; basis: WatchInterval['basis'] }[] = [];
  if (question.forecast.kind === 'range') {
    candidates.push({ ms: (question.forecast.fromMs - from) / parts, basis: 'forecast' });
  } else if (level !== null && question.slopeHigh !== null && question.slopeHigh > 0) {
    candidates.push({ ms: (stopLevel - level) / question.slopeHigh / parts, basis: 'steepest-slope' });
  }
  if (question.alertRaised) candidates.push({ ms: longestMs / 2, basis: 'alert' });
  const first = candidates.sort((a, b) => a.ms - b.ms)[0];
  return first === undefined ? result(longestMs, 'agreed-longest') : result(first.ms, first.basis);
}
