import {
  ALONE_ON_VEHICLE_DEG,
  angleDeg,
  gravityOf,
  type MotionLimits,
  MountMotion,
  type Reading,
  type ReadingReader,
} from '../../../collector/index.ts';
import type { Log } from '../config.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { StretchRecord } from '../records/stretches.ts';

/** Watches the direction of gravity of every mount, and begins a new stretch of a mount that has turned. */
export interface MountWatch {
  /** New seconds of a sensor, in order. */
  take(reading: Reading): void;
  /** Mounts were changed. */
  forget(): void;
  /** Settles when what was begun in the background is done. */
  idle(): Promise<void>;
}

/** Angles of the other mounts count while they are this fresh. */
const TOGETHER_MS = 10_000;
/** While no dashboard ran, a turn went unseen: it is looked for so far back, in pieces. */
const LOOK_BACK_MS = 24 * 3_600_000;
const PIECE_MS = 600_000;

interface Watched {
  stretch: StretchRecord;
  motion: MountMotion;
  newestMs: number;
  /** It has turned, and its new stretch is about to begin: until then there is nothing to learn. */
  isOver: boolean;
}

export function createMountWatch(deps: {
  records: RecordStore;
  readings: ReadingReader;
  log: Log;
}): MountWatch {
  const { records, readings, log } = deps;
  let bySensor: Map<string, Watched> | null = null;
  let bySensorBefore = new Map<string, Watched>();
  let background: Promise<void> = Promise.resolve();

  function watched(): Map<string, Watched> {
    if (bySensor !== null) return bySensor;
    const before = bySensorBefore;
    bySensor = new Map();
    for (const stretch of records.stretches.current()) {
      const key = `${stretch.nodeId}/${stretch.sensor}`;
      const known = before.get(key);
      const isSame = known !== undefined && isSameStretch(known.stretch, stretch);
      const motion = isSame ? known.motion : new MountMotion(stretch.gravity);
      bySensor.set(key, {
        stretch,
        motion,
        newestMs: isSame ? known.newestMs : stretch.fromMs,
        isOver: false,
      });
    }
    return bySensor;
  }
  function limitsFor({ assetKind }: StretchRecord): MotionLimits {
    const { mountTurnDeg } = records.settings.read();
    return { turnDeg: mountTurnDeg, aloneDeg: assetKind === 'vehicle' ? ALONE_ON_VEHICLE_DEG : 0 };
  }

  function othersDeg(of: Watched, startMs: number): number[] {
    return [...watched().values()].flatMap((other) => {
      const isBeside = other !== of && other.stretch.assetId === of.stretch.assetId;
      const isFresh = Math.abs(other.newestMs - startMs) <= TOGETHER_MS;
      return isBeside && isFresh && other.motion.angleDeg !== null ? [other.motion.angleDeg] : [];
    });
  }

  async function beginAnew(
    { mountId, nodeId, sensor, fromMs, gravity }: StretchRecord,
    event: { turnedDeg: number; sinceMs: number; reachesBack: boolean },
    turnDeg: number,
  ): Promise<void> {
    let sinceMs = event.sinceMs;
    if (event.reachesBack && gravity !== null) {
      const earliestMs = Math.max(fromMs, sinceMs - LOOK_BACK_MS);
      sinceMs = await turnedSince(readings, { nodeId, sensor }, { sinceMs, earliestMs, gravity, turnDeg });
    }
    if (!records.stretches.turned(mountId, sinceMs, event.turnedDeg)) return;
    log.warn(
      `sensor ${sensor + 1} of node ${nodeId} has turned by ${Math.round(event.turnedDeg)} degrees since it was ` +
        `mounted: check the clamp; its trend begins a new stretch`,
    );
  }

  return {
    take(reading) {
      const of = watched().get(`${reading.nodeId}/${reading.sensor}`);
      const gravity = gravityOf(reading);
      if (of === undefined || of.isOver || gravity === null || reading.startMs <= of.newestMs) return;
      of.newestMs = reading.startMs;
      const limits = limitsFor(of.stretch);
      const event = of.motion.take(reading.startMs, gravity, othersDeg(of, reading.startMs), limits);
      if (event?.kind === 'learned') {
        records.stretches.learn(of.stretch.mountId, event.reference);
        of.stretch.gravity = event.reference;
      } else if (event?.kind === 'turned') {
        of.isOver = true;
        background = background
          .then(() => beginAnew(of.stretch, event, limits.turnDeg))
          .catch((error: Error) => log.error(`a turned mount could not be noted: ${error.message}`));
      }
    },
    forget() {
      if (bySensor !== null) bySensorBefore = bySensor;
      bySensor = null;
    },
    idle: () => background,
  };
}

/** Goes back from a second that was turned to the first one of its kind, as far as readings are there. */
async function turnedSince(
  readings: ReadingReader,
  sensor: { nodeId: string; sensor: number },
  from: {
    sinceMs: number;
    earliestMs: number;
    gravity: readonly [number, number, number];
    turnDeg: number;
  },
): Promise<number> {
  let sinceMs = from.sinceMs;
  for (let endMs = from.sinceMs; endMs > from.earliestMs; endMs -= PIECE_MS) {
    const seconds = await readings.readings(sensor, Math.max(from.earliestMs, endMs - PIECE_MS), endMs);
    for (const reading of seconds.reverse()) {
      const gravity = gravityOf(reading);
      if (gravity === null) continue;
      if (angleDeg(from.gravity, gravity) <= from.turnDeg) return sinceMs;
      sinceMs = reading.startMs;
    }
  }
  return sinceMs;
}

/** One that a person has confirmed a moment after it began keeps its number, but must learn its direction anew. */
function isSameStretch(a: StretchRecord, b: StretchRecord): boolean {
  return a.mountId === b.mountId && a.gravity?.join() === b.gravity?.join();
}
