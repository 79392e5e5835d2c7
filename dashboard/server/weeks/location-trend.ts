import { mountedSensorUncertainty, trend, zoneLimitsMmPerS } from '../../../collector/index.ts';
import type { TrendValue } from '../../contract/model.ts';
import type { LocationTrend, TrendsQuery } from '../../contract/weeks.ts';
import type { AssetRecord, LocationRecord } from '../records/assets.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { Analyst } from '../runs/analyst.ts';
import { type PlacedRuns, placedRuns } from './placed-levels.ts';
import { trendSentences } from './sentences.ts';

export const UNITS: Record<TrendValue, string> = {
  velocityRmsMmPerS: 'mm/s',
  accelerationRmsMPerS2: 'm/s²',
  accelerationPeakMPerS2: 'm/s²',
  crestFactor: '',
  kurtosis: '',
};

/** False alarms a year that are put up with for each watched value. */
export const FALSE_ALARMS_PER_YEAR = 0.1;
/** Twice the baseline, where nobody has named a limit. Common practice, no source. */
const USUAL_LIMIT_RATIO = 2;
const YEAR_MS = 365.25 * 86_400_000;
/** Runs a year are rounded to one of these: limits are worked out once for each. */
const RATES = [12, 26, 52, 104, 156, 260, 365, 730];

export interface TrendDeps {
  records: RecordStore;
  analyst: Analyst;
  now(): number;
}

type Asked = Omit<TrendsQuery, 'locationIds'>;

/** The trend of one value at one location. Statistics run where the analyst runs them. */
export async function locationTrend(
  deps: TrendDeps,
  locationId: number,
  query: Asked = {},
): Promise<LocationTrend> {
  const { records, now } = deps;
  const location = records.assets.location(locationId);
  const asset = records.assets.asset(location.assetId);
  const { value = 'velocityRmsMmPerS', fromMs = 0, toMs = now() } = query;
  const placed = placedRuns(records, location, value);
  const bins = binsOf(placed);
  const bin = query.bin ?? (asset.kind === 'machine' ? 'any' : null);
  const limit =
    query.limit ?? plannedLimit(records, location, value, bin) ?? usualLimit(placed, asset, value, bin);
  const question = questionOf(placed, asset, { value, bin, limit, fromMs, toMs });
  const followed = await deps.analyst.ask('follow', question);
  const runOf = new Map(placed.accepted.map((run) => [`${run.timeMs} ${run.bin}`, run]));
  const answer: Omit<LocationTrend, 'sentences'> = {
    locationId,
    location: location.name,
    component: location.component,
    assetId: asset.id,
    assetName: asset.name,
    assetKind: asset.kind,
    value,
    basis: bin === null ? 'ratio' : 'level',
    unit: bin === null ? '' : UNITS[value],
    bin,
    // In a ratio to the own baseline it cancels.
    sensorUncertainty: bin === null || UNITS[value] === '' ? null : sensorUncertainty(records, location.id),
    bins: bins.map((entry) => ({
      ...entry,
      runsMissing: Math.max(0, trend.BASELINE_RULES.least - entry.runs),
    })),
    peers: peersOf(records, location, asset),
    points: followed.points.map((point) => {
      const run = runOf.get(`${point.timeMs} ${point.bins[0]}`);
      const sd = bin === null ? null : (run?.medianSd ?? null);
      return {
        ...point,
        runId: run?.runId ?? null,
        low: sd === null ? null : Math.max(0, point.value - 2 * sd),
        high: sd === null ? null : point.value + 2 * sd,
      };
    }),
    leftOut: [
      ...placed.leftOut.filter((entry) => bin === null || entry.bin === bin),
      ...followed.watched.notRunning.map(({ timeMs }) => ({
        timeMs,
        runId: null,
        bin: bin ?? 'any',
        reason: 'not-running',
      })),
    ],
    stretch: placed.current,
    stretches: placed.stretches,
    events: records.assetEvents.list(asset.id),
    baseline: followed.watched.baseline,
    alerts: followed.watched.alerts.map(({ about, limits, state }) => ({
      about,
      raiseAbove: limits.raiseAbove,
      clearBelow: limits.clearBelow,
      falseAlarmsPerYear: limits.falseAlarmsPerYear,
      raised: state.raised,
      sinceMs: state.sinceMs,
    })),
    line: followed.line,
    test: followed.test,
    change:
      followed.change === null
        ? null
        : { timeMs: followed.change.timeMs, step: followed.change.step, pValue: followed.change.pValue },
    limit,
    forecast: followed.forecast,
  };
  return { ...answer, sentences: trendSentences(answer, now()) };
}

/** What the pure statistics are asked. */
export function questionOf(
  placed: PlacedRuns,
  asset: AssetRecord,
  asked: { value: TrendValue; bin: string | null; limit: number | null; fromMs: number; toMs: number },
): trend.FollowQuestion {
  const { value, bin, limit, fromMs, toMs } = asked;
  const isStationary = asset.kind === 'machine' && value === 'velocityRmsMmPerS';
  const [, bc, cd] = zoneLimitsMmPerS(asset.machineClass);
  return {
    levels: placed.accepted.map(({ timeMs, value: level, bin: of, stretch }) => ({
      timeMs,
      value: level,
      bin: of,
      stretch,
    })),
    stretch: placed.current,
    bin,
    criterion: isStationary ? { kind: 'stationary', boundaryBc: bc } : { kind: 'own-spread' },
    zoneBoundaries: isStationary
      ? [
          { name: 'B/C', value: bc },
          { name: 'C/D', value: cd },
        ]
      : [],
    wish: { falseAlarmsPerYear: FALSE_ALARMS_PER_YEAR, runsPerYear: runsPerYear(placed) },
    limit,
    fromMs,
    toMs,
  };
}

/** As often as it was measured in the newest stretch, rounded. */
function runsPerYear({ accepted }: PlacedRuns): number {
  const newest = accepted.at(-1)?.stretch;
  const times = [
    ...new Set(accepted.filter(({ stretch }) => stretch === newest).map(({ timeMs }) => timeMs)),
  ];
  const spanMs = (times.at(-1) ?? 0) - (times[0] ?? 0);
  const rate = spanMs > 0 ? ((times.length - 1) * YEAR_MS) / spanMs : 52;
  return RATES.find((known) => known >= rate) ?? RATES.at(-1)!;
}

/** The limit that an open watch plan has for this very trend; its location's own plan before the asset's. */
function plannedLimit(
  records: RecordStore,
  { id, assetId }: LocationRecord,
  value: TrendValue,
  bin: string | null,
): number | null {
  const basis = bin === null ? 'ratio' : 'level';
  const limits = records.watchPlans
    .openOf(assetId)
    .sort((a, b) => (b.locationId ?? 0) - (a.locationId ?? 0))
    .flatMap(({ stopLimits }) => stopLimits)
    .filter((entry) => entry.locationId === id && entry.value === value && entry.basis === basis);
  return limits.find((entry) => bin === null || (entry.bin ?? 'any') === bin)?.limit ?? null;
}

function usualLimit(
  { accepted, current }: PlacedRuns,
  asset: AssetRecord,
  value: TrendValue,
  bin: string | null,
): number | null {
  if (bin === null) return USUAL_LIMIT_RATIO;
  if (asset.kind === 'machine' && value === 'velocityRmsMmPerS')
    return zoneLimitsMmPerS(asset.machineClass)[2];
  const found = trend.baseline(accepted.filter((run) => run.bin === bin && run.stretch === current));
  return found.known ? USUAL_LIMIT_RATIO * found.median : null;
}

function binsOf({ accepted, current }: PlacedRuns): { bin: string; runs: number }[] {
  const counts = new Map<string, number>();
  for (const { bin, stretch } of accepted)
    if (stretch === current) counts.set(bin, (counts.get(bin) ?? 0) + 1);
  return [...counts].map(([bin, runs]) => ({ bin, runs })).sort((a, b) => b.runs - a.runs);
}

function sensorUncertainty(records: RecordStore, locationId: number): number | null {
  const mount = records.mounts.currentAt(locationId);
  if (mount === null) return null;
  const tolerancePct = records.sensors.toleranceOf(mount.nodeId, mount.sensor);
  return mountedSensorUncertainty(tolerancePct === null ? undefined : tolerancePct / 100);
}

/** The same place on the same component, on other assets of the same kind. */
function peersOf(records: RecordStore, location: LocationRecord, asset: AssetRecord): LocationTrend['peers'] {
  const same = (a: string, b: string) => a.trim().toLowerCase() === b.trim().toLowerCase();
  return records.assets
    .list()
    .filter(({ id, kind }) => id !== asset.id && kind === asset.kind)
    .flatMap(({ id, name }) =>
      records.assets
        .locations(id)
        .filter((other) => same(other.name, location.name) && same(other.component, location.component))
        .map((other) => ({ locationId: other.id, assetName: name })),
    );
}
