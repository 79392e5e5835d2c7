import { LEFT_OUT_FLAGS, type Reading, trend } from '../../../collector/index.ts';
import type { TrendValue } from '../../contract/model.ts';
import type { KeptSummary, PeriodLevel } from '../records/period-levels.ts';

export const VALUES: readonly TrendValue[] = [
  'velocityRmsMmPerS',
  'accelerationRmsMPerS2',
  'accelerationPeakMPerS2',
  'crestFactor',
  'kurtosis',
];

/** Fewer seconds than these in one condition were driven through, not driven in. */
const LEAST_SECONDS = trend.RUN_LIMITS.leastUsed;
/** A median needs no more; more would only cost time. */
const MOST_SECONDS = 600;

/** One second (or minute) of one location, all values of the highest axis. */
export interface Instant {
  timeMs: number;
  flagged: boolean;
  values: Record<TrendValue, number | null>;
}

export function instantOf({ startMs, flags, axes }: Reading): Instant {
  const highest = (value: TrendValue) =>
    axes.reduce<number | null>((most, axis) => {
      const own = axis[value];
      return own === null || (most !== null && most >= own) ? most : own;
    }, null);
  return {
    timeMs: startMs,
    flagged: flags.some((flag) => LEFT_OUT_FLAGS.includes(flag)),
    values: Object.fromEntries(VALUES.map((value) => [value, highest(value)])) as Instant['values'],
  };
}

/** The conditions of a run and what each came to. Conditions with too few seconds are left out. */
export function summariseRun(
  place: Pick<PeriodLevel, 'locationId' | 'runId'>,
  instants: readonly Instant[],
  conditionAt: (startMs: number) => string | null,
): PeriodLevel[] {
  const byBin = new Map<string, Instant[]>();
  for (const instant of instants) {
    const bin = conditionAt(instant.timeMs);
    if (bin === null) continue;
    const group = byBin.get(bin);
    if (group === undefined) byBin.set(bin, [instant]);
    else group.push(instant);
  }
  return [...byBin]
    .filter(([, group]) => group.length >= LEAST_SECONDS)
    .map(([bin, group]) => ({
      ...periodLevel(place, bin, group),
      // All conditions of a run share its time: that is how they are known to belong together.
      fromMs: instants[0]!.timeMs,
      toMs: instants.at(-1)!.timeMs + 1000,
    }));
}

/** A machine counts as running while it shakes at least a quarter as much as in the busiest tenth of its day. */
const RUNNING_SHARE = 0.25;

/** One day of a machine, of the time it ran. Null when there is nothing to sum up. */
export function summariseDay(
  locationId: number,
  instants: readonly Instant[],
  readings: number,
): Omit<PeriodLevel, 'fromMs' | 'toMs'> | null {
  const usable = instants
    .flatMap(({ flagged, values }) =>
      flagged || values.velocityRmsMmPerS === null ? [] : [values.velocityRmsMmPerS],
    )
    .sort((a, b) => a - b);
  const busy = usable[Math.floor(0.9 * usable.length)];
  if (busy === undefined) return null;
  const running = instants.filter(
    ({ values }) => values.velocityRmsMmPerS === null || values.velocityRmsMmPerS > RUNNING_SHARE * busy,
  );
  return { ...periodLevel({ locationId, runId: null }, 'any', running), readings };
}

function periodLevel(
  place: Pick<PeriodLevel, 'locationId' | 'runId'>,
  bin: string,
  instants: readonly Instant[],
): PeriodLevel {
  const thin = thinned(instants);
  return {
    ...place,
    fromMs: instants[0]!.timeMs,
    toMs: instants.at(-1)!.timeMs + 1000,
    bin,
    readings: instants.length,
    summaries: Object.fromEntries(
      VALUES.map((value) => [value, kept(thin, value)]),
    ) as PeriodLevel['summaries'],
  };
}

function kept(instants: readonly Instant[], value: TrendValue): KeptSummary {
  const { used, leftOutShare, median, mad, medianSd, refused } = trend.runSummary(
    instants.map(({ timeMs, flagged, values }) => ({ timeMs, flagged, value: values[value] })),
  );
  return { used, leftOutShare, median, mad, medianSd, refused };
}

/** Every so many, evenly over the period. */
function thinned(instants: readonly Instant[]): readonly Instant[] {
  const step = Math.ceil(instants.length / MOST_SECONDS);
  return step <= 1 ? instants : instants.filter((_, i) => i % step === 0);
}
