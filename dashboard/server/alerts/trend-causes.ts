import type { AlertClearing } from '../../contract/alerts.ts';
import type { TrendValue } from '../../contract/model.ts';
import type { LocationTrend } from '../../contract/weeks.ts';
import type { AlertRecord, Cause } from '../records/alerts.ts';
import { nowOf } from '../weeks/sentences.ts';

/**
 * Values whose trends raise alerts: how much a part moves, and how hard it is struck, which early damage changes first.
 * Each one more brings its own false alarms.
 */
export const WATCHED_VALUES: readonly TrendValue[] = ['velocityRmsMmPerS', 'accelerationRmsMPerS2'];

export const trendScope = (locationId: number, value: TrendValue): string => `trend/${locationId}/${value}/`;

/** What of a trend stands now. Persistence and hysteresis are the trend's own: it is made of runs, not of looks. */
export function trendCauses(trend: LocationTrend): Cause[] {
  const { locationId, assetId, value: quantity, basis, unit } = trend;
  const newest = trend.points.filter(({ stretch }) => stretch === trend.stretch).at(-1);
  return trend.alerts
    .filter(({ raised }) => raised)
    .map(({ about, raiseAbove, falseAlarmsPerYear, sinceMs }) => ({
      key: trendScope(locationId, quantity) + about,
      about: about === 'change' ? 'change' : 'zone',
      assetId,
      locationId,
      nodeId: null,
      quantity,
      detail: about === 'change' ? '' : about,
      value: nowOf(trend),
      limit: raiseAbove,
      unit: basis === 'ratio' ? 'ratio' : unit,
      falseAlarmsPerYear,
      sinceMs: sinceMs ?? newest?.timeMs ?? 0,
      seenMs: newest?.timeMs ?? sinceMs ?? 0,
    }));
}

/** Back below its limit, or without a baseline to be held against, as after work was done. */
export function whyTrendCleared(trend: LocationTrend, alert: AlertRecord): AlertClearing {
  const about = alert.about === 'change' ? 'change' : alert.detail;
  return trend.alerts.some((one) => one.about === about) ? 'normal-again' : 'no-longer-compared';
}
