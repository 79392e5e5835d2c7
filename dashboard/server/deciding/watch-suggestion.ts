import { trend } from '../../../collector/index.ts';
import type { StopLimit, WatchSuggestion, WatchSuggestionQuery } from '../../contract/watch-plans.ts';
import type { LocationTrend } from '../../contract/weeks.ts';
import type { AssetRecord, LocationRecord } from '../records/assets.ts';
import type { RecordStore } from '../records/record-store.ts';
import { nowOf } from '../weeks/sentences.ts';
import type { Trends } from '../weeks/trend-cache.ts';
import { dateOf } from '../weeks/words.ts';
import { safetyCaution } from './part-kind.ts';
import { commonSigns } from './watch-signs.ts';

const DAY_MS = 86_400_000;
const WEEK_MS = 7 * DAY_MS;
/** Bounds where nobody names others. Common practice, no source. */
const SHORTEST_DAYS = 1;
const LONGEST_DAYS = 28;

interface Deps {
  records: RecordStore;
  trends: Trends;
  now(): number;
}

/** What the trend says a watch plan should be: the interval with its reason, and limits in the trend's own unit. */
export async function watchSuggestion(
  { records, trends, now }: Deps,
  asset: AssetRecord,
  query: WatchSuggestionQuery,
): Promise<WatchSuggestion> {
  const places = records.assets
    .locations(asset.id)
    .filter(({ id }) => query.locationId === undefined || id === query.locationId);
  const followed = await Promise.all(places.map(({ id }) => trends.of(id)));
  const bounds = {
    shortestMs: DAY_MS * Math.min(query.shortestDays ?? SHORTEST_DAYS, query.longestDays ?? LONGEST_DAYS),
    longestMs: DAY_MS * Math.max(query.longestDays ?? LONGEST_DAYS, query.shortestDays ?? SHORTEST_DAYS),
  };
  const each = followed
    .map((of) => ({ of, interval: intervalOf(of, bounds, now()) }))
    .sort((a, b) => a.interval.everyMs - b.interval.everyMs);
  const leads = each[0];
  const everyMs = leads?.interval.everyMs ?? bounds.longestMs;
  const bins = [...new Set(followed.flatMap((of) => of.bins.map(({ bin }) => bin)))];
  return {
    // Whole days: nobody plans hours weeks ahead. Rounded down, so as not to come later than worked out.
    everyDays: Math.max(1, Math.floor(everyMs / DAY_MS)),
    reason:
      leads === undefined ? 'Nothing is measured here yet: the longest interval agreed on.' : reasonOf(leads),
    kind: asset.kind === 'machine' ? 'bench' : 'road',
    bins: asset.kind === 'machine' ? [] : bins.slice(0, 12),
    stopLimits: followed.flatMap(limitOf).slice(0, 8),
    signs: commonSigns(asset),
    caution: cautionOf(records, places),
  };
}

function cautionOf(records: RecordStore, places: readonly LocationRecord[]): string | null {
  // Of an asset as a whole, one such part among others does not forbid to wait with the others.
  return places.length === 1 ? safetyCaution(records, places[0]!) : null;
}

function limitOf({ locationId, value, basis, bin, limit }: LocationTrend): StopLimit[] {
  return limit === null ? [] : [{ locationId, value, basis, bin, limit }];
}

function intervalOf(
  followed: LocationTrend,
  bounds: { shortestMs: number; longestMs: number },
  nowMs: number,
): trend.WatchInterval {
  const { points, stretch, forecast, limit, line, alerts } = followed;
  const last = points.filter((point) => point.stretch === stretch).at(-1);
  return trend.watchInterval({
    nowMs,
    lastRunMs: last?.timeMs ?? null,
    forecast: (forecast ?? { kind: 'cannot-say-yet', reason: 'too-few-runs', runs: 0 }) as trend.Forecast,
    level: nowOf(followed),
    stopLevel: limit ?? Number.POSITIVE_INFINITY,
    slopeHigh: line === null ? null : line.highPerWeek / WEEK_MS,
    alertRaised: alerts.some(({ raised }) => raised),
    raiseRuns: trend.ALERT_RULE.raiseRuns,
    ...bounds,
  });
}

function reasonOf({ of, interval }: { of: LocationTrend; interval: trend.WatchInterval }): string {
  const { location, forecast } = of;
  const days = Math.round(interval.everyMs / DAY_MS);
  switch (interval.basis) {
    case 'stop-level-reached':
      return `${location} has reached its stop limit: do not wait for another measurement to decide.`;
    case 'forecast': {
      const early = forecast?.kind === 'range' ? dateOf(forecast.fromMs) : '';
      return `${location} may reach its stop limit as early as ${early}. A third of the time to there: an alert needs two measurements, and one may fail.`;
    }
    case 'steepest-slope':
      return `No date can be foreseen. A third of the time in which the steepest rise that the measurements at ${location} allow would reach its stop limit.`;
    case 'alert':
      return `An alert is up at ${location}: half the longest interval agreed on (common practice, no source).`;
    case 'agreed-shortest':
      return `The measurements at ${location} ask for a shorter interval than the shortest agreed on, ${days} ${days === 1 ? 'day' : 'days'}: better do not wait.`;
    case 'agreed-longest':
      return `Nothing measured at ${location} asks for less than the longest interval agreed on.`;
  }
}
