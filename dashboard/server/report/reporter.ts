import type { ReadingReader } from '../../../collector/index.ts';
import type { CompareResult } from '../../contract/inquiries.ts';
import { isPart } from '../../contract/words/findings.ts';
import type { DashboardDeps } from '../config.ts';
import { safetyCaution } from '../deciding/part-kind.ts';
import { watchPlanDue } from '../deciding/watch-due.ts';
import { Refusal } from '../errors.ts';
import type { AssetRecord, LocationRecord } from '../records/assets.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { RunRecord } from '../records/runs.ts';
import { mountsDuring, runView } from '../runs/run-view.ts';
import { placeNames } from '../runs/sources.ts';
import type { Trends } from '../weeks/trend-cache.ts';
import type { ReportData, ReportMedia, ReportPlace } from './data.ts';
import { levelDuring, lookOf, newestLevel, sensorsOf } from './gather-places.ts';
import { gatherRun, spanOfRun } from './gather-run.ts';
import { byLoudness, compared, digestsOf, lookInto, mediaOf, type SampleDeps } from './gather-samples.ts';
import { headline } from './headline.ts';
import { reportPage } from './page.ts';
import { softwareVersion } from './version.ts';

export interface ReporterDeps extends SampleDeps {
  readings: ReadingReader;
  trends: Pick<Trends, 'of'>;
  zoneOf: DashboardDeps['zoneOf'];
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
  const shown = suspectOf(places, comparison) ?? byLoudness(places, comparison)[0] ?? null;
  const media =
    run === null || shown === null
      ? null
      : await shownSamples(deps, { run, places, main: shown, comparison, names, nowMs });
  // A look that was made for this report may have named a part.
  const main = suspectOf(places, comparison);
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

/** Sounds and pictures of a place; where nobody has looked into these samples for parts, that is done first. */
async function shownSamples(
  deps: ReporterDeps,
  question: Omit<Parameters<typeof mediaOf>[1], 'svg'>,
): Promise<ReportMedia> {
  const { run, main, comparison } = question;
  if (main.look?.inRun === true) return mediaOf(deps, { ...question, svg: null });
  try {
    const look = await lookInto(deps, run, main.locationId, comparison);
    if (look !== null) main.look = look;
    return await mediaOf(deps, { ...question, svg: look?.svg ?? null });
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    const media = await mediaOf(deps, { ...question, svg: null });
    return { ...media, notes: [...media.notes, `Not looked for lines of parts: ${error.message}`] };
  }
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
  const digestAt = run === null ? () => null : await digestsOf(deps, run);
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
      digest: digestAt(location.id),
    });
  }
  return places;
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
