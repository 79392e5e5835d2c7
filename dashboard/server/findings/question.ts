import { bearingFromText, runningGearPairs, type SpanQuestion } from '../../../collector/index.ts';
import type { DriveTrain, FindingsRequest } from '../../contract/drive-train.ts';
import type { MountedSensor } from '../records/mounts.ts';
import type { RecordStore } from '../records/record-store.ts';
import { type SpanSpeed, speedOfSpan } from './speed-of-span.ts';
import { trainModel } from './train-model.ts';

const DEFAULT_SECONDS = 10;
/** Samples of the last moments may still be under way. */
const ARRIVING_MS = 2_000;
/** Slower than this a shaft counts as standing. */
const STANDS_HZ = 0.2;

/** A look prepared from the records: what to analyse, and under which conditions. */
export interface PreparedLook {
  question: Omit<SpanQuestion, 'journalDir'>;
  sensor: MountedSensor;
  shaft: string | null;
  shaftHz: number | null;
  speedSource: SpanSpeed['source'];
  bearing: string | null;
}

/** Null when no sensor stood at the location then. */
export function prepareLook(
  records: RecordStore,
  locationId: number,
  request: FindingsRequest,
  nowMs: number,
): PreparedLook | null {
  const location = records.assets.location(locationId);
  const { toMs = nowMs - ARRIVING_MS, seconds = DEFAULT_SECONDS, speedRpm } = request;
  const fromMs = toMs - Math.round(1000 * seconds);
  const mount = records.mounts.history(locationId, fromMs, toMs).at(-1);
  if (mount === undefined) return null;
  const span = { fromMs: Math.max(fromMs, mount.fromMs), toMs: Math.min(toMs, mount.toMs ?? toMs) };
  const train = records.driveTrains.of(location.assetId);
  const entry = train.bearings.find((bearing) => bearing.locationId === locationId);
  const shaft = entry?.shaft ?? train.shafts[0] ?? null;
  const speed = speedOfSpan(train, shaft, speedRpm, toldDuring(records, location.assetId, span));
  const hz = speed.hzOf.get(shaft ?? '') ?? null;
  const turns = hz !== null && hz >= STANDS_HZ;
  return {
    question: {
      sensor: { nodeId: mount.nodeId, sensor: mount.sensor },
      span,
      title: `${records.assets.asset(location.assetId).name}, ${location.name}`,
      gears: turns
        ? runningGearPairs(trainModel(train), { hz: new Map(speed.hzOf), contradictions: [] })
        : [],
      otherLinesHz: otherLines(train, speed, shaft),
      ...(turns && { shaftHz: hz }),
      ...(turns && speed.varying && { speed: speed.varying }),
      ...(turns && entry && { bearing: bearingFromText(entry.bearing, entry.outerRing) }),
    },
    sensor: { nodeId: mount.nodeId, sensor: mount.sensor },
    shaft,
    shaftHz: hz,
    speedSource: speed.source,
    bearing: entry?.bearing ?? null,
  };
}

function toldDuring(
  records: RecordStore,
  assetId: number,
  { fromMs, toMs }: { fromMs: number; toMs: number },
) {
  const run = records.runs
    .list(assetId)
    .find(({ startMs, endMs }) => startMs < toMs && (endMs === null || endMs > fromMs));
  return run === undefined ? [] : records.vehicleValues.series(run.id, fromMs, toMs);
}

/** The first orders of the other shafts: their turning swells the load too, and accuses no bearing. */
function otherLines(train: DriveTrain, { hzOf, varying }: SpanSpeed, shaft: string | null): number[] {
  // Over a varying speed these lines have no one place.
  if (varying !== undefined) return [];
  const hz = (name: string) => hzOf.get(name) ?? 0;
  return train.shafts
    .filter((name) => name !== shaft && hz(name) >= STANDS_HZ)
    .flatMap((name) => [1, 2, 3].map((order) => order * hz(name)));
}
