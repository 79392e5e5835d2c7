import { troubleCodeNote } from '../../../collector/index.ts';
import type { Run, RunLocation, RunSummary } from '../../contract/runs.ts';
import type { LocationRecord } from '../records/assets.ts';
import type { MountRecord } from '../records/mounts.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { RunRecord } from '../records/runs.ts';

export function summaryView({ complaint, checks, troubleCodes, ...summary }: RunRecord): RunSummary {
  return summary;
}

export function runView(records: RecordStore, run: RunRecord, nowMs: number): Run {
  const recorded = records.recordings.ofRun(run.id);
  const mounted =
    recorded.length === 0
      ? mountsDuring(records, run, nowMs)
      : new Map(recorded.flatMap(({ channels }) => channels.map(({ locationId }) => [locationId, true])));
  const places = records.assets.locations(run.assetId);
  return {
    ...run,
    troubleCodes: run.troubleCodes.map(troubleCodeNote),
    marks: records.runEvents.marks(run.id),
    manoeuvres: records.runEvents.manoeuvres(run.id),
    vehicle: records.vehicleValues.newest(run.id),
    locations: places.filter(({ id }) => mounted.has(id)).map(locationView),
  };
}

const locationView = ({ id, name, component }: LocationRecord): RunLocation => ({ id, name, component });

/** Which sensors stood at each location of the run's asset while it lasted. */
export function mountsDuring(
  records: RecordStore,
  run: Pick<RunRecord, 'assetId' | 'startMs' | 'endMs'>,
  nowMs: number,
): Map<number, MountRecord[]> {
  const found = new Map<number, MountRecord[]>();
  for (const { id } of records.assets.locations(run.assetId)) {
    const mounts = records.mounts.history(id, run.startMs, Math.max(run.startMs + 1, run.endMs ?? nowMs));
    if (mounts.length > 0) found.set(id, mounts);
  }
  return found;
}
