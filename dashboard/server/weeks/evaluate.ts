import type { ReadingReader } from '../../../collector/index.ts';
import type { TrendValue } from '../../contract/model.ts';
import type { RecordStore } from '../records/record-store.ts';
import type { RunRecord } from '../records/runs.ts';
import { coveredSpan } from '../view.ts';
import { conditionsOf } from './conditions.ts';
import { type Instant, instantOf, summariseDay, summariseRun, VALUES } from './summarise.ts';

export interface EvaluateDeps {
  records: RecordStore;
  readings: ReadingReader;
}

const DAY_MS = 86_400_000;
const MINUTE_MS = 60_000;
/** A day with fewer readings (captures now and then) is summed up from seconds, else from minutes. */
const FEW_READINGS = 7_200;

export const dayOf = (atMs: number): number => Math.floor(atMs / DAY_MS) * DAY_MS;

/** Works out what a run of a vehicle came to at each location; true when any second was found. */
export async function evaluateRun(deps: EvaluateDeps, run: RunRecord): Promise<boolean> {
  const { records } = deps;
  const { assetId, startMs, kind } = run;
  const endMs = run.endMs!;
  const conditionAt = conditionsOf({
    kind,
    vehicle: records.vehicleValues.series(run.id),
    manoeuvres: records.runEvents.manoeuvres(run.id),
  });
  let found = false;
  for (const { id } of records.assets.locations(assetId)) {
    const instants = await secondsOf(deps, id, startMs, endMs);
    if (instants.length === 0) continue;
    found = true;
    const levels = summariseRun({ locationId: id, runId: run.id }, instants, conditionAt);
    const count = levels.reduce((sum, level) => sum + level.readings, 0);
    // What was worked out while all seconds were there stays when some are gone.
    if (count < records.periodLevels.readingsOf(id, run.id)) continue;
    records.periodLevels.put(id, run.id, startMs, levels);
  }
  return found;
}

/** Works out one day of a machine's location from as many readings as there are. */
export async function evaluateDay(
  deps: EvaluateDeps,
  locationId: number,
  dayMs: number,
  readings: number,
): Promise<void> {
  let instants: Instant[] =
    readings <= FEW_READINGS ? await secondsOf(deps, locationId, dayMs, dayMs + DAY_MS) : [];
  if (instants.length === 0) instants = await minutesOf(deps, locationId, dayMs);
  const level = summariseDay(locationId, instants, readings);
  if (level === null) return;
  const period = { ...level, fromMs: dayMs, toMs: dayMs + DAY_MS };
  deps.records.periodLevels.put(locationId, null, dayMs, [period]);
}

/** Days of a machine's location since `fromMs` whose readings have become more than were worked out. */
export async function daysToEvaluate(
  deps: EvaluateDeps,
  locationId: number,
  fromMs: number,
  nowMs: number,
): Promise<{ dayMs: number; readings: number }[]> {
  const done = deps.records.periodLevels.daysOf(locationId);
  const today = dayOf(nowMs);
  const span = { fromMs: dayOf(fromMs), toMs: today + DAY_MS };
  const counts = new Map<number, number>();
  await overSensors(deps, locationId, span.fromMs, span.toMs, async (sensor, part) => {
    // Whole days, whatever part of them the sensor was here: hours before it came hold nothing of it.
    const { timeMs, count } = await deps.readings.series({
      sensor,
      value: 'velocityRmsMmPerS',
      axis: 'highest',
      fromMs: dayOf(part.fromMs),
      toMs: dayOf(part.toMs - 1) + DAY_MS,
      maxPoints: Math.round((dayOf(part.toMs - 1) + DAY_MS - dayOf(part.fromMs)) / DAY_MS),
    });
    timeMs.forEach((atMs, i) => {
      const day = dayOf(atMs);
      counts.set(day, (counts.get(day) ?? 0) + count[i]!);
    });
  });
  return [...counts]
    .filter(([day, count]) => {
      const before = done.get(day) ?? 0;
      // Of today, half an hour more is worth another look; of days that are over, anything that came late.
      return count > before + (day === today ? (before === 0 ? 0 : 1_800) : 0);
    })
    .map(([dayMs, readings]) => ({ dayMs, readings }))
    .sort((a, b) => a.dayMs - b.dayMs);
}

async function secondsOf(
  deps: EvaluateDeps,
  locationId: number,
  fromMs: number,
  toMs: number,
): Promise<Instant[]> {
  const found: Instant[] = [];
  await overSensors(deps, locationId, fromMs, toMs, async (sensor, part) => {
    const readings = await deps.readings.readings(sensor, part.fromMs, part.toMs);
    for (const reading of readings)
      if (reading.startMs >= part.fromMs && reading.startMs < part.toMs) found.push(instantOf(reading));
  });
  return found;
}

async function minutesOf(deps: EvaluateDeps, locationId: number, dayMs: number): Promise<Instant[]> {
  const found: Instant[] = [];
  await overSensors(deps, locationId, dayMs, dayMs + DAY_MS, async (sensor, part) => {
    const byTime = new Map<number, Instant>();
    for (const value of VALUES) {
      const { fromMs, toMs } = part;
      const maxPoints = Math.max(1, Math.floor((toMs - fromMs) / MINUTE_MS));
      const query = { sensor, value, axis: 'highest' as const, fromMs, toMs, maxPoints };
      const series = await deps.readings.series(query);
      series.timeMs.forEach((timeMs, i) => {
        const flagged = series.flagged[i]! > series.count[i]! / 2;
        const instant = byTime.get(timeMs) ?? { timeMs, flagged, values: nothing() };
        instant.values[value] = series.value[i]!;
        byTime.set(timeMs, instant);
      });
    }
    found.push(...byTime.values());
  });
  return found;
}

const nothing = () =>
  Object.fromEntries(VALUES.map((value) => [value, null])) as Record<TrendValue, number | null>;

/** Each sensor's stay at a location, cut to a span. */
async function overSensors(
  { records }: EvaluateDeps,
  locationId: number,
  fromMs: number,
  toMs: number,
  work: (sensor: { nodeId: string; sensor: number }, part: { fromMs: number; toMs: number }) => Promise<void>,
): Promise<void> {
  for (const mount of records.mounts.history(locationId, fromMs, toMs)) {
    const span = coveredSpan(mount);
    const part = { fromMs: Math.max(fromMs, span.fromMs), toMs: Math.min(toMs, span.toMs) };
    if (part.fromMs >= part.toMs) continue;
    await work({ nodeId: mount.nodeId, sensor: mount.sensor }, part);
  }
}
