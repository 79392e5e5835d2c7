import type { Forecast, LocationTrend } from '../../contract/weeks.ts';
import { dateOf, dateRange, level, percent } from './words.ts';

/** Significance below which a slope is called one. */
export const SIGNIFICANT = 0.05;

type Told = Omit<LocationTrend, 'sentences'>;

/** What a trend comes to, for a person: most important first. Says what cannot be said as plainly as what can. */
export function trendSentences(trend: Told, nowMs: number): string[] {
  if (trend.points.length === 0 && trend.leftOut.length === 0 && trend.bins.length === 0) {
    return [
      trend.assetKind === 'vehicle'
        ? 'No run of this vehicle has given a level here yet. A run counts when its speed is recorded, or when it is made of guided manoeuvres.'
        : 'No day has been measured here yet.',
    ];
  }
  return [...standing(trend), ...direction(trend), ...steps(trend), ...ahead(trend, nowMs)];
}

function standing(trend: Told): string[] {
  const { baseline } = trend;
  if (!baseline.known) {
    const why =
      baseline.reason === 'bedding-in'
        ? 'the level is still falling, as new or newly greased parts do'
        : `${baseline.runsMissing} more ${runs(trend, baseline.runsMissing)} are needed for a baseline`;
    return [`What is normal here is not known yet: ${why}.`];
  }
  const now = nowOf(trend);
  if (now === null) return [];
  const ratio = now / baseline.median;
  const told =
    trend.basis === 'ratio'
      ? `The last three runs lie at ${level(now)} times the baseline, each run compared with its own condition only`
      : `The last three ${runs(trend, 3)} lie at ${level(now)} ${trend.unit}${ofSensor(trend, now)}, ${percentOf(ratio)} the baseline of ${level(baseline.median)} ${trend.unit}`;
  const alert = trend.alerts.find(({ about, raised }) => about === 'change' && raised);
  const judged =
    alert === undefined
      ? 'no more than the own scatter explains'
      : `more than the own scatter explains since ${dateOf(alert.sinceMs!)}`;
  const rising = baseline.rising ? ' The level rose already while the baseline was taken.' : '';
  return [`${told.replace(/ $/, '')}: ${judged}.${rising}`];
}

/** The whole trend may lie so far off; its course does not. */
function ofSensor({ sensorUncertainty, unit }: Told, now: number): string {
  return sensorUncertainty === null ? '' : ` (± ${level(sensorUncertainty * now)} ${unit} by the sensor)`;
}

/** Middle of the last three runs of the stretch that lasts now. */
export function nowOf(trend: Pick<Told, 'points' | 'stretch'>): number | null {
  const last = trend.points
    .filter(({ stretch }) => stretch === trend.stretch)
    .slice(-3)
    .map(({ value }) => value)
    .sort((a, b) => a - b);
  return last.length === 0 ? null : last[Math.floor(last.length / 2)]!;
}

function direction(trend: Told): string[] {
  const { line, test, unit, basis } = trend;
  if (line === null || test === null) return [];
  const rate = (perWeek: number) =>
    basis === 'ratio' ? `${percent(perWeek)} of the baseline` : `${level(perWeek)} ${unit}`.trim();
  const range = `(95 % range ${rate(line.lowPerWeek)} to ${rate(line.highPerWeek)})`;
  const significance = `chance of this without a trend ${chance(test.pValue)}`;
  if (test.pValue > SIGNIFICANT || test.tau === null)
    return [
      `No rise or fall that stands out from chance: slope ${rate(line.perWeek)} a week ${range}, ${significance}.`,
    ];
  const verb = line.perWeek > 0 ? 'rises' : 'falls';
  return [
    `Over the ${test.runs} ${runs(trend, test.runs)} shown it ${verb} by ${rate(Math.abs(line.perWeek))} a week ${range}; ${significance}.`,
  ];
}

function steps({ change, unit, basis }: Told): string[] {
  if (change === null || change.pValue > SIGNIFICANT) return [];
  const size =
    basis === 'ratio' ? `${percent(change.step)} of the baseline` : `${level(change.step)} ${unit}`;
  return [`It changed most clearly about ${dateOf(change.timeMs)}, by ${size.trim()}.`];
}

const REASONS: Record<string, string> = {
  'too-few-runs': 'too few runs',
  'no-significant-rise': 'no rise that stands out from chance',
  'no-longer-rising': 'it rose, but does not rise any more',
  'limit-too-far': 'more is still missing to the limit than has been seen of the rise',
  'no-end-in-sight': 'the data allow a date very far away',
};

function ahead({ forecast, limit, unit, basis }: Told, nowMs: number): string[] {
  if (forecast === null || limit === null) return [];
  const at = basis === 'ratio' ? `${level(limit)} times the baseline` : `${level(limit)} ${unit}`.trim();
  return [forecastSentence(forecast, at, nowMs)];
}

export function forecastSentence(forecast: Forecast, limit: string, nowMs: number): string {
  if (forecast.kind === 'reached')
    return `The limit of ${limit} has been reached since ${dateOf(forecast.sinceMs)}.`;
  if (forecast.kind === 'cannot-say-yet')
    return `When ${limit} will be reached cannot be said yet: ${REASONS[forecast.reason] ?? forecast.reason}.`;
  const { fromMs, toMs } = forecast;
  // Measured too long ago: a day that has passed is no forecast.
  if (toMs < nowMs)
    return `${limit} was expected to be reached by ${dateOf(toMs)} (in four of five such cases), and nothing has been measured since: measure again.`;
  const early = fromMs <= nowMs ? `any day now, by ${dateOf(toMs)}` : dateRange(fromMs, toMs);
  return `${limit} is expected to be reached ${early} (in four of five such cases), if it goes on as in the last runs.`;
}

function percentOf(ratio: number): string {
  return ratio >= 1 ? `${percent(ratio - 1)} above` : `${percent(1 - ratio)} below`;
}

function chance(p: number): string {
  return p < 0.001 ? 'less than 1 in 1000' : `${percent(p)}`;
}

function runs({ assetKind }: Pick<Told, 'assetKind'>, count: number): string {
  const one = assetKind === 'vehicle' ? 'run' : 'day';
  return count === 1 ? one : `${one}s`;
}
