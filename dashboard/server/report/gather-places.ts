import type { ReadingReader } from '../../../collector/index.ts';
import type { LocationReading } from '../../contract/model.ts';
import type { DashboardDeps } from '../config.ts';
import type { AssetRecord, LocationRecord } from '../records/assets.ts';
import type { MountRecord } from '../records/mounts.ts';
import type { RecordStore } from '../records/record-store.ts';
import { coveredSpan, covers, locationReading } from '../view.ts';
import type { PlaceLevel, PlaceSensor, ReportPlace, Span } from './data.ts';

export interface PlaceDeps {
  records: RecordStore;
  readings: ReadingReader;
  zoneOf: DashboardDeps['zoneOf'];
}

/** A newest reading that is older says nothing of now. */
const FRESH_MS = 24 * 3_600_000;

export function sensorsOf(records: RecordStore, mounts: readonly MountRecord[]): PlaceSensor[] {
  return mounts.map(({ nodeId, sensor, fromMs, turnedDeg }) => {
    const { part, serial, tolerancePct, gravityCheck, shakerCheck } = records.sensors.find(nodeId, sensor);
    return {
      nodeId,
      sensor,
      part,
      serial,
      tolerancePct,
      checkedMs: Math.max(gravityCheck?.atMs ?? 0, shakerCheck?.atMs ?? 0) || null,
      mountedMs: fromMs,
      turnedDeg,
    };
  });
}

/** The look that is nearest to the run; one inside it first. Of a report without a run, the newest. */
export function lookOf(records: RecordStore, locationId: number, run: Span | null): ReportPlace['look'] {
  const looks = records.findings.list(locationId, 200);
  if (run === null) return looks[0] === undefined ? null : { record: looks[0], inRun: false };
  const inside = looks.find(
    ({ startMs, durationS }) => startMs < run.toMs && startMs + 1000 * durationS > run.fromMs,
  );
  if (inside !== undefined) return { record: inside, inRun: true };
  const distance = (startMs: number) => Math.abs(startMs - run.fromMs);
  const [nearest] = looks.toSorted((a, b) => distance(a.startMs) - distance(b.startMs));
  return nearest === undefined ? null : { record: nearest, inRun: false };
}

/** Middle of the sound seconds of a run at a location. `seconds`: only these; null: all of the span. */
export async function levelDuring(
  { records, readings, zoneOf }: PlaceDeps,
  { asset, mounts, span, seconds, zonesApply }: LevelQuestion,
): Promise<PlaceLevel | null> {
  const found: LocationReading[] = [];
  for (const mount of mounts) {
    const covered = coveredSpan(mount);
    const part = { fromMs: Math.max(span.fromMs, covered.fromMs), toMs: Math.min(span.toMs, covered.toMs) };
    if (part.fromMs >= part.toMs) continue;
    const tolerance = records.sensors.toleranceOf(mount.nodeId, mount.sensor);
    for (const reading of await readings.readings(mount, part.fromMs, part.toMs)) {
      if (reading.flags.length > 0) continue;
      if (seconds !== null && !seconds.has(Math.floor(reading.startMs / 1000))) continue;
      found.push(locationReading(reading, mount.locationId, asset.machineClass, zoneOf, tolerance));
    }
  }
  return middleOf(found, zonesApply);
}

export interface LevelQuestion {
  asset: AssetRecord;
  mounts: readonly MountRecord[];
  span: Span;
  seconds: ReadonlySet<number> | null;
  zonesApply: boolean;
}

/** The newest reading, where it is of today. */
export async function newestLevel(
  { records, readings, zoneOf }: PlaceDeps,
  asset: AssetRecord,
  location: LocationRecord,
  nowMs: number,
): Promise<PlaceLevel | null> {
  const mount = records.mounts.currentAt(location.id);
  if (mount === null) return null;
  const latest = await readings.latest();
  const reading = latest.find(({ nodeId, sensor }) => nodeId === mount.nodeId && sensor === mount.sensor);
  if (reading === undefined || nowMs - reading.startMs > FRESH_MS || !covers(mount, reading.startMs))
    return null;
  const tolerance = records.sensors.toleranceOf(mount.nodeId, mount.sensor);
  const view = locationReading(reading, location.id, asset.machineClass, zoneOf, tolerance);
  return middleOf([view], asset.kind === 'machine');
}

function middleOf(readings: readonly LocationReading[], zonesApply: boolean): PlaceLevel | null {
  const sound = readings
    .filter(({ highest }) => highest !== null)
    .sort((a, b) => a.highest!.velocityRmsMmPerS - b.highest!.velocityRmsMmPerS);
  const middle = sound[Math.floor(sound.length / 2)];
  if (middle === undefined) return null;
  const { axis, velocityRmsMmPerS, velocityUncertaintyMmPerS = null, zone } = middle.highest!;
  return {
    velocityRmsMmPerS,
    uncertaintyMmPerS: velocityUncertaintyMmPerS,
    axis,
    bandHz: middle.bandHz,
    seconds: sound.length,
    zone: zonesApply ? zone : null,
  };
}
