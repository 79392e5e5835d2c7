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

export const trendScope = (locationId: number): string => `trend/${locationId}/`;

/**
 * What of the trends of one location stands now. Persistence and hysteresis are the trends' own: they are made of runs,
 * not of looks. Values that have changed together are one alert, told in the one that is farthest beyond its limit; its
 * rate of false alarms is that of all of them together.
 */
export function trendCauses(trends: readonly LocationTrend[]): Cause[] {
  const raised = trends.flatMap((trend) =>
    trend.alerts.filter((alert) => alert.raised).map((alert) => ({ ...causeOf(trend, alert), trend })),
  );
  return [...new Set(raised.map(({ key }) => key))].map((key) => {
    const together = raised.filter((one) => one.key === key);
    const [{ trend: _, ...first }] = together.toSorted((a, b) => beyond(b) - beyond(a)) as [
      (typeof raised)[0],
    ];
    return {
      ...first,
      sinceMs: Math.min(...together.map(({ sinceMs }) => sinceMs)),
      falseAlarmsPerYear: rateOf(trends, first),
    };
  });
}

type TrendAlert = LocationTrend['alerts'][number];

function causeOf(
  trend: LocationTrend,
  { about, raiseAbove, falseAlarmsPerYear, sinceMs }: TrendAlert,
): Cause {
  const { locationId, assetId, value: quantity, basis, unit } = trend;
  const newest = trend.points.filter(({ stretch }) => stretch === trend.stretch).at(-1);
  return {
    key: trendScope(locationId) + about,
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
  };
}

const beyond = ({ value, limit }: Cause): number => (value ?? 0) / (limit ?? 1);

/** Any of the values watched would have raised it: their rates add up. */
function rateOf(trends: readonly LocationTrend[], cause: Cause): number | null {
  const rates = trends.flatMap(({ alerts }) =>
    alerts
      .filter(({ about }) => about === aboutOf(cause))
      .map(({ falseAlarmsPerYear }) => falseAlarmsPerYear),
  );
  return rates.reduce<number | null>((sum, rate) => (sum === null || rate === null ? null : sum + rate), 0);
}

const aboutOf = ({ about, detail }: Pick<Cause, 'about' | 'detail'>) =>
  about === 'change' ? 'change' : detail;

/** Back below its limit, or without a baseline to be held against, as after work was done. */
export function whyTrendCleared(trends: readonly LocationTrend[], alert: AlertRecord): AlertClearing {
  const isStillWatched = trends.some(({ alerts }) => alerts.some(({ about }) => about === aboutOf(alert)));
  return isStillWatched ? 'normal-again' : 'no-longer-compared';
}
