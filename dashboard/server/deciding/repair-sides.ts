import { trend } from '../../../collector/index.ts';
import type { PlacedRun, PlacedRuns } from '../weeks/placed-levels.ts';

const HALF_DAY_MS = 43_200_000;
/**
 * Runs of a condition that are compared, the nearest to the repair: what lies far before it belongs to less wear.
 * Common practice, no source.
 */
const MOST_OF_A_BIN = 12;

export interface RepairSides {
  before: PlacedRun[];
  after: PlacedRun[];
  /** The sensor was mounted anew between the runs compared, or had turned. */
  mountChanged: boolean;
}

/**
 * Runs of the stretch that ended with the repair, and of the first one after it that has any. A machine's day in which
 * it was repaired belongs to neither side, nor does a day on which the machine stood: it would pass for quiet.
 */
export function repairSides({ accepted, stretches }: PlacedRuns, repairedMs: number): RepairSides {
  const isApart = ({ runId, timeMs }: PlacedRun) =>
    runId !== null || Math.abs(timeMs - repairedMs) > HALF_DAY_MS;
  const apart = accepted.filter(isApart);
  const [all, later] = [true, false].map((isBefore) =>
    apart.filter(({ timeMs }) => timeMs < repairedMs === isBefore),
  ) as [PlacedRun[], PlacedRun[]];
  const before = all.filter(({ stretch }) => stretch === all.at(-1)?.stretch);
  const after = later.filter(({ stretch }) => stretch === later[0]?.stretch);
  const normal = trend.baseline(before);
  const ran = ({ runId, value }: PlacedRun) =>
    runId !== null || !normal.known || trend.wasRunning(value, normal.median);
  const [lastMs, firstMs] = [before.at(-1)?.timeMs, after[0]?.timeMs];
  const mountChanged =
    lastMs !== undefined &&
    firstMs !== undefined &&
    stretches.some(({ fromMs, reason }) => fromMs > lastMs && fromMs <= firstMs && MOUNT_REASONS.has(reason));
  return { before: before.filter(ran), after: after.filter(ran), mountChanged };
}

const MOUNT_REASONS = new Set(['mount turned', 'mount set again', 'another sensor']);

/** The runs nearest to the repair of each condition. */
export function nearest(side: readonly PlacedRun[], which: 'last' | 'first'): PlacedRun[] {
  const names = [...new Set(side.map(({ bin }) => bin))];
  return names.flatMap((name) => {
    const runs = side.filter(({ bin }) => bin === name);
    return which === 'last' ? runs.slice(-MOST_OF_A_BIN) : runs.slice(0, MOST_OF_A_BIN);
  });
}
