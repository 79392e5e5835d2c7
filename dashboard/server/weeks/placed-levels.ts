import type { trend } from '../../../collector/index.ts';
import type { TrendValue } from '../../contract/model.ts';
import type { LocationTrend } from '../../contract/weeks.ts';
import type { LocationRecord } from '../records/assets.ts';
import type { RecordStore } from '../records/record-store.ts';

/** A run's level in one condition, in the stretch it was taken in. */
export interface PlacedRun extends trend.PlacedLevel {
  runId: number | null;
  medianSd: number | null;
}

export interface PlacedRuns {
  accepted: PlacedRun[];
  leftOut: LocationTrend['leftOut'];
  stretches: LocationTrend['stretches'];
  /** Number of the stretch that lasts now. */
  current: number;
}

const STRETCH_WORDS = {
  repair: 'repair',
  'oil-change': 'oil change',
  'new-tyre': 'new tyre',
  other: 'work done',
} as const;

/**
 * Accepted runs of one value at a location, each in its stretch. A new stretch begins where the sensor was mounted anew
 * or had turned, and where people noted work: levels before and after are not compared.
 */
export function placedRuns(records: RecordStore, location: LocationRecord, value: TrendValue): PlacedRuns {
  const breaks = breaksOf(records, location);
  const accepted: PlacedRun[] = [];
  const leftOut: PlacedRuns['leftOut'] = [];
  for (const level of records.periodLevels.ofLocation(location.id)) {
    const { runId, bin, summaries, fromMs, toMs } = level;
    const { median, medianSd, refused } = summaries[value];
    const timeMs = runId === null ? (fromMs + toMs) / 2 : fromMs;
    const reason = level.leftOut ?? refused ?? (median === null || median <= 0 ? 'no-value' : null);
    if (reason !== null) leftOut.push({ timeMs, runId, bin, reason });
    else {
      // A day in which something was done belongs to the stretch it ended in.
      const stretch = breaks.filter((entry) => entry.atMs <= (runId === null ? toMs - 1 : timeMs)).length;
      accepted.push({ timeMs, runId, bin, value: median!, medianSd, stretch });
    }
  }
  accepted.sort((a, b) => a.timeMs - b.timeMs);
  const first = accepted[0]?.timeMs;
  const stretches = breaks.map(({ atMs, reason }, index) => ({ stretch: index + 1, fromMs: atMs, reason }));
  return {
    accepted,
    leftOut,
    // The first mount begins no new stretch of anything.
    stretches: stretches.filter(({ fromMs }) => first !== undefined && fromMs > first),
    current: breaks.length,
  };
}

function breaksOf(records: RecordStore, { id, assetId }: LocationRecord): { atMs: number; reason: string }[] {
  const mounts = records.mounts.history(id, 0, Number.MAX_SAFE_INTEGER).map((mount, index, all) => {
    const before = all[index - 1];
    const same = before?.nodeId === mount.nodeId && before.sensor === mount.sensor;
    const reason = mount.turnedDeg !== null ? 'mount turned' : same ? 'mount set again' : 'another sensor';
    return { atMs: mount.fromMs, reason };
  });
  const events = records.assetEvents
    .list(assetId)
    .flatMap(({ atMs, kind }) => (kind === 'note' ? [] : [{ atMs, reason: STRETCH_WORDS[kind] }]));
  return [...mounts, ...events].sort((a, b) => a.atMs - b.atMs);
}
