import type { ReadingReader } from '../../../collector/index.ts';
import type { CompareResult } from '../../contract/inquiries.ts';
import { isPart } from '../../contract/words/findings.ts';
import type { DashboardConfig, DashboardDeps } from '../config.ts';
import { safetyCaution } from '../deciding/part-kind.ts';
import { watchPlanDue } from '../deciding/watch-due.ts';
import { Refusal } from '../errors.ts';
import type { AssetRecord, LocationRecord } from '../records/assets.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { RunRecord } from '../records/runs.ts';
import type { Analyst } from '../runs/analyst.ts';
import { mountsDuring, runView } from '../runs/run-view.ts';
import { createSources, placeNames } from '../runs/sources.ts';
import type { Trends } from '../weeks/trend-cache.ts';
import type { ReportData, ReportMedia, ReportPlace } from './data.ts';
import { gatherMedia } from './gather-media.ts';
import { levelDuring, lookOf, newestLevel, sensorsOf } from './gather-places.ts';
import { gatherRun, spanOfRun } from './gather-run.ts';
import { headline } from './headline.ts';
import { momentsOf } from './moments.ts';
import { reportPage } from './page.ts';
import { softwareVersion } from './version.ts';

export interface ReporterDeps {
  records: RecordStore;
  readings: ReadingReader;
  trends: Pick<Trends, 'of'>;
  /** Refuses politely: a Refusal leaves its section out, with the reason. */
  analyst: Analyst;
  zoneOf: DashboardDeps['zoneOf'];
  config: Pick<DashboardConfig, 'journalDir' | 'recordingsDir' | 'site'>;
  now(): number;
}

export interface ReportOptions {
  /** Names, notes and exact times too; without it only what others need to judge the finding. */
  withNames: boolean;
}

/** Makes reports: each one HTML text that needs nothing beside it. */
export interface Reporter {
  /** Throws `RUN_NOT_FOUND`, `RUN_UNDER_WAY`. */
  ofRun(runId: number, options: ReportOptions): Promise<string>;
  /** Of the newest run that said something, or of the levels alone where none was made. Throws `ASSET_NOT_FOUND`. */
  ofAsset(assetId: number, options: ReportOptions): Promise<string>;
}

/** Trends take processor time, and a report that shows more places is not read. */
const MOST_TRENDS = 12;

export function createReporter(deps: ReporterDeps): Reporter {
  const { records } = deps;
  return {
    async ofRun(runId, options) {
      const run = records.runs.run(runId);
      if (run.endMs === null)
        throw new Refusal('RUN_UNDER_WAY', { message: 'This run is still under way; end it first.' });
      return reportPage(await gather(deps, records.assets.asset(run.assetId), run, options));
    },
    async ofAsset(assetId, options) {
      const asset = records.assets.asset(assetId);
      const run = records.runs
        .list(assetId)
        .find(({ endMs, outcome }) => endMs !== null && outcome !== 'aborted');
      return reportPage(await gather(deps, asset, run ?? null, options));
    },
  };
}

async function gather(
  deps: ReporterDeps,
  asset: AssetRecord,
  run: RunRecord | null,
  { withNames }: ReportOptions,
): Promise<ReportData> {
  const { records, config } = deps;
  const nowMs = deps.now();
  const locations = locationsOf(records, asset, run, nowMs);
  const { comparison, missing } =
    run === null ? { comparison: null, missing: null } : await compared(deps, run);
  const noise = noiseSeconds(comparison);
  const places = await placesOf(deps, { asset, run, locations, noise, nowMs });
  const names = placeNames(records.assets.locations(asset.id));
  const main = suspectOf(places, comparison);
  const media = run === null ? null : await mediaOf(deps, { run, places, main, comparison, names, nowMs });
  return {
    madeMs: nowMs,
    version: softwareVersion(),
    withNames,
    site: withNames ? config.site : null,
    asset: {
      id: asset.id,
      name: withNames ? asset.name : null,
      kind: asset.kind,
      machineClass: asset.machineClass,
    },
    headline: headline({
      outcome: run?.outcome ?? null,
      comparison,
      comparisonMissing: missing,
      suspect:
        main === null
          ? null
          : {
              label: names.get(main.locationId)!,
              look: main.look?.record ?? null,
              trend: main.trend,
              caution: safetyCaution(records, records.assets.location(main.locationId)),
            },
      locations: places.length,
      nextDueMs: nextDueMs(records, asset.id, nowMs),
    }),
    run: run === null ? null : gatherRun(records, run, { withNames, noise, nowMs }),
    comparison,
    comparisonMissing: missing,
    media,
    places,
    mainId: main?.locationId ?? null,
  };
}

function nextDueMs(records: RecordStore, assetId: number, nowMs: number): number | null {
  const due = records.watchPlans
    .open()
    .filter((plan) => plan.assetId === assetId)
    .map((plan) => watchPlanDue(records, plan, nowMs).nextDueMs);
  return due.length === 0 ? null : Math.min(...due);
}

function locationsOf(
  records: RecordStore,
  asset: AssetRecord,
  run: RunRecord | null,
  nowMs: number,
): LocationRecord[] {
  const all = records.assets.locations(asset.id);
  if (run === null) return all;
  const there = new Set(runView(records, run, nowMs).locations.map(({ id }) => id));
  return all.filter(({ id }) => there.has(id));
}

/** The comparison that was made, or one made now: the same question gives the same answer. */
async function compared(
  { records, analyst, config, now }: ReporterDeps,
  run: RunRecord,
): Promise<{ comparison: CompareResult | null; missing: string | null }> {
  const kept = records.runResults.text(run.id, 'compare');
  if (kept !== null) return { comparison: JSON.parse(kept) as CompareResult, missing: null };
  const sources = createSources(records, config, now);
  try {
    const found = await analyst.ask('compare', {
      source: sources.ofRun(run),
      span: sources.spanOf(run),
      marks: records.runEvents.marks(run.id),
      conditions: records.vehicleValues.series(run.id),
    });
    return { comparison: { madeMs: now(), request: {}, ...found } as CompareResult, missing: null };
  } catch (error) {
    if (error instanceof Refusal) return { comparison: null, missing: error.message };
    throw error;
  }
}

function noiseSeconds(comparison: CompareResult | null): ReadonlySet<number> | null {
  if (comparison === null) return null;
  return new Set(comparison.comparison.windows.map((window) => comparison.seconds[window]!));
}

async function placesOf(
  deps: ReporterDeps,
  question: {
    asset: AssetRecord;
    run: RunRecord | null;
    locations: readonly LocationRecord[];
    noise: ReadonlySet<number> | null;
    nowMs: number;
  },
): Promise<ReportPlace[]> {
  const { asset, run, locations, noise, nowMs } = question;
  const { records, trends } = deps;
  const span = run === null ? null : spanOfRun(run, nowMs);
  const during = run === null ? null : mountsDuring(records, run, nowMs);
  const zonesApply = asset.kind === 'machine' || (run !== null && run.kind !== 'road');
  const places: ReportPlace[] = [];
  for (const location of locations) {
    const current = records.mounts.currentAt(location.id);
    const mounts = during?.get(location.id) ?? (run === null && current !== null ? [current] : []);
    places.push({
      locationId: location.id,
      name: location.name,
      component: location.component,
      level:
        span === null
          ? await newestLevel(deps, asset, location, nowMs)
          : await levelDuring(deps, { asset, mounts, span, seconds: noise, zonesApply }),
      look: lookOf(records, location.id, span),
      trend: places.length < MOST_TRENDS ? await trends.of(location.id) : null,
      sensors: run?.source === 'import' ? [] : sensorsOf(records, mounts),
      digest: run === null ? null : await digestOf(deps, run, location.id),
    });
  }
  return places;
}

async function digestOf(
  { records, config, now, analyst }: ReporterDeps,
  run: RunRecord,
  locationId: number,
): Promise<ReportPlace['digest']> {
  try {
    const sources = createSources(records, config, now);
    return await analyst.ask('digest', { source: sources.ofRun(run, locationId), span: sources.spanOf(run) });
  } catch (error) {
    if (error instanceof Refusal) return { missing: error.message };
    throw error;
  }
}

/** The location that leads; else one whose part stands out, or that changed, or is foremost; else none. */
function suspectOf(places: readonly ReportPlace[], comparison: CompareResult | null): ReportPlace | null {
  const verdict = comparison?.comparison.verdict;
  const byId = (id: string | null | undefined) =>
    places.find(({ locationId }) => String(locationId) === id) ?? null;
  return (
    byId(verdict?.locationId) ??
    places.find(({ look }) => look !== null && isPart(look.record.verdict)) ??
    places.find(({ trend: of }) => of?.alerts.some(({ about, raised }) => about === 'change' && raised)) ??
    null
  );
}

async function mediaOf(
  { records, config, now, analyst }: ReporterDeps,
  question: {
    run: RunRecord;
    places: readonly ReportPlace[];
    main: ReportPlace | null;
    comparison: CompareResult | null;
    names: ReadonlyMap<number, string>;
    nowMs: number;
  },
): Promise<ReportMedia | null> {
  const { run, places, comparison, names, nowMs } = question;
  const loudest = byLoudness(places, comparison);
  const main = question.main ?? loudest[0];
  if (main === undefined) return null;
  const sources = createSources(records, config, now);
  const placeOf = ({ locationId }: ReportPlace) => ({
    label: names.get(locationId)!,
    source: sources.ofRun(run, locationId),
  });
  const marks = records.runEvents.marks(run.id);
  const span = spanOfRun(run, nowMs);
  try {
    return await gatherMedia(analyst, {
      run: span,
      moments: momentsOf(span, marks, comparison),
      marks,
      main: { ...placeOf(main), look: main.look },
      others: loudest
        .filter((place) => place !== main)
        .slice(0, 2)
        .map(placeOf),
    });
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return { notes: [error.message], clips: [], spectrogram: null, lines: null };
  }
}

/** By the power that the comparison saw in all bands of the noise. */
function byLoudness(places: readonly ReportPlace[], comparison: CompareResult | null): ReportPlace[] {
  const power = new Map<string, number>();
  for (const { levels, standsOut } of comparison?.comparison.bands ?? []) {
    for (const { locationId, rmsMPerS2 } of levels)
      if (standsOut) power.set(locationId, (power.get(locationId) ?? 0) + rmsMPerS2 ** 2);
  }
  const of = ({ locationId }: ReportPlace) => power.get(String(locationId)) ?? 0;
  return places.toSorted((a, b) => of(b) - of(a));
}
