import { MANOEUVRES, reviewSuspects } from '../../../collector/index.ts';
import type { VehicleSeries } from '../../contract/runs.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { RunRecord } from '../records/runs.ts';
import type { ReportRun, Span } from './data.ts';

/** What people and the vehicle said of a run. `noise`: the seconds of interest; null: all of it. */
export function gatherRun(
  records: RecordStore,
  run: RunRecord,
  options: { withNames: boolean; noise: ReadonlySet<number> | null; nowMs: number },
): ReportRun {
  const { withNames, noise, nowMs } = options;
  const sinceStart = (atMs: number) => (atMs - run.startMs) / 1000;
  const named = (text: string) => (withNames && text !== '' ? text : null);
  const manoeuvres = records.runEvents.manoeuvres(run.id);
  const observations = manoeuvres.flatMap(({ manoeuvre, noise: heard, pitch }) =>
    heard === null ? [] : [{ manoeuvre, noise: heard, ...(pitch === null ? {} : { pitch }) }],
  );
  const series = records.vehicleValues.series(run.id);
  const during = vehicleDuring(series, noise);
  const isDuringNoise = noise !== null && during.length > 0;
  return {
    id: run.id,
    kind: run.kind,
    source: run.source,
    startMs: run.startMs,
    seconds: sinceStart(run.endMs ?? nowMs),
    operator: named(run.operator),
    odometerKm: run.odometerKm,
    notes: named(run.notes),
    complaint: run.complaint,
    checks: run.checks.filter(({ state }) => state !== 'not-done'),
    outcome: run.outcome,
    marks: records.runEvents.marks(run.id).map(({ atMs, endMs, note }) => ({
      fromS: sinceStart(atMs),
      toS: endMs === null ? null : sinceStart(endMs),
      note: named(note),
    })),
    manoeuvres: manoeuvres.map(({ manoeuvre, startMs, noise: heard, pitch }) => ({
      manoeuvre,
      title: MANOEUVRES.find(({ id }) => id === manoeuvre)?.title ?? manoeuvre,
      fromS: sinceStart(startMs),
      noise: heard,
      pitch,
    })),
    suspects: observations.length === 0 ? null : reviewSuspects(observations).sentence,
    vehicle: isDuringNoise ? during : vehicleDuring(series, null),
    vehicleSpan: isDuringNoise ? 'noise' : 'run',
  };
}

function vehicleDuring(series: readonly VehicleSeries[], seconds: ReadonlySet<number> | null) {
  return series.flatMap(({ quantity, atMs, value }) => {
    const values = value
      .filter((_, k) => seconds === null || seconds.has(Math.floor(atMs[k]! / 1000)))
      .sort((a, b) => a - b);
    if (values.length === 0) return [];
    const middle = values[Math.floor(values.length / 2)]!;
    return [{ quantity, low: values[0]!, middle, high: values.at(-1)! }];
  });
}

export function spanOfRun({ startMs, endMs }: RunRecord, nowMs: number): Span {
  return { fromMs: startMs, toMs: endMs ?? nowMs };
}
