import {
  beginCheck,
  type CheckProgress,
  gravityOf,
  HOLD_SECONDS,
  type Reading,
  solveGravityCheck,
  takeSecond,
} from '../../../collector/index.ts';
import type { GravityCheckResult, GravityCheckState } from '../../contract/rig.ts';
import { Refusal } from '../errors.ts';

/** Guided gravity checks under way, one for a sensor, in memory: one that is given up leaves nothing. */
export interface GravityChecks {
  begin(nodeId: string, sensor: number): GravityCheckState;
  /** Throws `GRAVITY_CHECK_NOT_FOUND`, as `take` back does. */
  state(nodeId: string, sensor: number): GravityCheckState;
  /** The finished result, taken out. Throws `GRAVITY_CHECK_UNFINISHED`. */
  finish(nodeId: string, sensor: number): GravityCheckResult;
  giveUp(nodeId: string, sensor: number): void;
  take(reading: Reading): void;
}

/** A check that nobody looks at is over. */
const FORGOTTEN_MS = 30 * 60_000;
const MOST_AT_ONCE = 50;

interface Check {
  progress: CheckProgress;
  newest: [number, number, number] | null;
  newestMs: number;
  usedMs: number;
}

export function createGravityChecks(now: () => number): GravityChecks {
  const checks = new Map<string, Check>();
  const keyOf = (nodeId: string, sensor: number) => `${nodeId}/${sensor}`;

  function use(nodeId: string, sensor: number): Check {
    const check = checks.get(keyOf(nodeId, sensor));
    if (check === undefined) throw new Refusal('GRAVITY_CHECK_NOT_FOUND');
    check.usedMs = now();
    return check;
  }

  function resultOf({ progress }: Check): GravityCheckResult | null {
    const result = solveGravityCheck(progress.positions);
    if (result === null) return null;
    const { scale, offsetMPerS2, ...rest } = result;
    return { atMs: now(), scale: [...scale], offsetMPerS2: [...offsetMPerS2], ...rest };
  }

  function view(check: Check): GravityCheckState {
    const { positions, still } = check.progress;
    return {
      positions: positions.map(({ face, seconds, meanMPerS2 }) => ({
        face,
        seconds,
        meanMPerS2: [...meanMPerS2],
      })),
      stillSeconds: still.length,
      holdSeconds: HOLD_SECONDS,
      newestMPerS2: check.newest,
      result: resultOf(check),
    };
  }

  return {
    begin(nodeId, sensor) {
      for (const [key, { usedMs }] of checks) if (now() - usedMs > FORGOTTEN_MS) checks.delete(key);
      const key = keyOf(nodeId, sensor);
      if (checks.size >= MOST_AT_ONCE && !checks.has(key)) throw new Refusal('TOO_MANY_RECORDS');
      const check: Check = { progress: beginCheck(), newest: null, newestMs: 0, usedMs: now() };
      checks.set(key, check);
      return view(check);
    },
    state: (nodeId, sensor) => view(use(nodeId, sensor)),
    finish(nodeId, sensor) {
      const result = resultOf(use(nodeId, sensor));
      if (result === null) throw new Refusal('GRAVITY_CHECK_UNFINISHED');
      checks.delete(keyOf(nodeId, sensor));
      return result;
    },
    giveUp: (nodeId, sensor) => void checks.delete(keyOf(nodeId, sensor)),
    take(reading) {
      const check = checks.get(keyOf(reading.nodeId, reading.sensor));
      if (check === undefined || reading.startMs <= check.newestMs) return;
      const gravity = gravityOf(reading);
      // A second that is missing may hide a movement.
      const isNext = check.newestMs === 0 || reading.startMs - check.newestMs === 1000;
      if (!isNext) check.progress = takeSecond(check.progress, null);
      check.newestMs = reading.startMs;
      check.newest = gravity === null ? null : [...gravity];
      check.progress = takeSecond(check.progress, gravity);
    },
  };
}
