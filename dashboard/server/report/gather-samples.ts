/** What a report asks of the raw samples of a run. Nothing of it is kept. */
import type { SpanAnswer, SpanQuestion } from '../../../collector/index.ts';
import type { CompareResult } from '../../contract/inquiries.ts';
import type { DashboardConfig } from '../config.ts';
import { Refusal } from '../errors.ts';
import { findingOf } from '../findings/finding-of.ts';
import { prepareLook } from '../findings/question.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { RunRecord } from '../records/runs.ts';
import type { Analyst } from '../runs/analyst.ts';
import { createSources } from '../runs/sources.ts';
import type { ReportMedia, ReportPlace } from './data.ts';
import { gatherMedia } from './gather-media.ts';
import { spanOfRun } from './gather-run.ts';
import { momentsOf } from './moments.ts';
import { sentence } from './words.ts';

export interface SampleDeps {
  records: RecordStore;
  /** Refuses politely: a Refusal leaves its section out, with the reason. */
  analyst: Analyst;
  /** Looks for lines of parts; absent: only looks that were made before are shown. */
  analyse?: (question: SpanQuestion) => Promise<SpanAnswer | null>;
  config: Pick<DashboardConfig, 'journalDir' | 'recordingsDir' | 'site'>;
  now(): number;
}

/** The comparison that was made, or one made now: the same question gives the same answer. */
export async function compared(
  { records, analyst, config, now }: SampleDeps,
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

/** Digest of each place's raw samples, or why there is none. */
export async function digestsOf(
  { records, config, now, analyst }: SampleDeps,
  run: RunRecord,
): Promise<(locationId: number) => ReportPlace['digest']> {
  try {
    const sources = createSources(records, config, now);
    const found = await analyst.ask('digests', { source: sources.ofRun(run), span: sources.spanOf(run) });
    const byPlace = new Map(found.map((one) => [one.locationId, one]));
    return (locationId) => {
      const one = byPlace.get(locationId);
      if (one === undefined) return null;
      return 'answer' in one ? one.answer : { missing: sentence(one.missing) };
    };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    const { message } = error;
    return () => ({ missing: message });
  }
}

/**
 * Looks into the marked seconds for lines of parts; null where they are not there, or nothing can look. Refuses with
 * `ANALYSIS_UNAVAILABLE`.
 */
export async function lookInto(
  { records, analyse, config, now }: SampleDeps,
  run: RunRecord,
  locationId: number,
  comparison: CompareResult | null,
): Promise<(ReportPlace['look'] & { svg: string }) | null> {
  const { journalDir } = config;
  if (analyse === undefined || journalDir === undefined || run.source === 'import') return null;
  const { noise } = momentsOf(spanOfRun(run, now()), records.runEvents.marks(run.id), comparison);
  const seconds = (noise.toMs - noise.fromMs) / 1000;
  const prepared = prepareLook(records, locationId, { toMs: Math.round(noise.toMs), seconds }, now());
  if (prepared === null) return null;
  const { name, component } = records.assets.location(locationId);
  // Its own title holds the name of the asset.
  const question = { ...prepared.question, title: `${component}, ${name}`, journalDir };
  const found = await analyse(question).catch((cause) => {
    throw new Refusal('ANALYSIS_UNAVAILABLE', { cause });
  });
  if (found === null) return null;
  const { pictureSvg, ...answer } = found;
  const record = findingOf(locationId, prepared, answer, { atMs: now(), by: null });
  return { record: { ...record, id: 0, picture: false }, inRun: true, svg: pictureSvg };
}

export async function mediaOf(
  { records, config, now, analyst }: SampleDeps,
  question: {
    run: RunRecord;
    places: readonly ReportPlace[];
    main: ReportPlace;
    /** Of the look that was made for this report. */
    svg: string | null;
    comparison: CompareResult | null;
    names: ReadonlyMap<number, string>;
    nowMs: number;
  },
): Promise<ReportMedia> {
  const { run, places, main, svg, comparison, names, nowMs } = question;
  const sources = createSources(records, config, now);
  const placeOf = ({ locationId }: ReportPlace) => ({ locationId, label: names.get(locationId)! });
  const marks = records.runEvents.marks(run.id);
  const span = spanOfRun(run, nowMs);
  try {
    return await gatherMedia(analyst, {
      source: sources.ofRun(run),
      run: span,
      moments: momentsOf(span, marks, comparison),
      marks,
      main: { ...placeOf(main), look: main.look, svg },
      others: byLoudness(places, comparison)
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
export function byLoudness(places: readonly ReportPlace[], comparison: CompareResult | null): ReportPlace[] {
  const power = new Map<string, number>();
  for (const { levels, standsOut } of comparison?.comparison.bands ?? []) {
    for (const { locationId, rmsMPerS2 } of levels)
      if (standsOut) power.set(locationId, (power.get(locationId) ?? 0) + rmsMPerS2 ** 2);
  }
  const of = ({ locationId }: ReportPlace) => power.get(String(locationId)) ?? 0;
  return places.toSorted((a, b) => of(b) - of(a));
}
