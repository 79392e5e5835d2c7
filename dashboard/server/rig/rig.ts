import { addTap, type FeltTap, type NodeHealth, type Reading, type Tap } from '../../../collector/index.ts';
import type { Log } from '../config.ts';
import type { RecordStore } from '../records/record-store.ts';
import { createGravityChecks, type GravityChecks } from './gravity-checks.ts';
import { createMountWatch, type MountWatch } from './mount-watch.ts';

/** What the server keeps of the sensors themselves: how nodes do, taps, mounts watched, checks under way. */
export interface Rig {
  health(nodeId: string): NodeHealth | null;
  /** Raps of the last minutes, oldest first. */
  taps(): FeltTap[];
  readonly checks: GravityChecks;
  readonly mounts: MountWatch;
  takeReading(reading: Reading): void;
  takeHealth(health: NodeHealth): void;
  /** The rap that this report belongs to. */
  takeTap(tap: Tap): FeltTap;
}

const TAPS_KEPT_MS = 600_000;
const MOST_NODES = 10_000;

export function createRig(deps: {
  records: RecordStore;
  readings: Parameters<typeof createMountWatch>[0]['readings'];
  log: Log;
  now(): number;
}): Rig {
  const { records, now } = deps;
  const healths = new Map<string, NodeHealth>();
  const checks = createGravityChecks(now);
  const mounts = createMountWatch(deps);
  let taps: FeltTap[] = [];
  records.onChange(({ kind }) => {
    if (kind === 'assets') mounts.forget();
  });

  return {
    checks,
    mounts,
    health: (nodeId) => healths.get(nodeId) ?? null,
    taps: () => taps.filter(({ atMs }) => Math.abs(now() - atMs) < TAPS_KEPT_MS),
    takeReading(reading) {
      checks.take(reading);
      mounts.take(reading);
    },
    takeHealth(health) {
      if (healths.size < MOST_NODES || healths.has(health.nodeId)) healths.set(health.nodeId, health);
    },
    takeTap(tap) {
      const before = new Set(taps);
      taps = addTap(taps, tap);
      return taps.findLast((rap) => !before.has(rap))!;
    },
  };
}
