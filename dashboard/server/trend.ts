import type { Reading, ReadingReader } from '../../collector/index.ts';
import type { ReadingsQuery, TrendQuery } from '../contract/http.ts';
import type { LocationReading, Trend } from '../contract/model.ts';
import type { DashboardDeps } from './config.ts';
import { Refusal } from './errors.ts';
import type { MountedSensor } from './records/mounts.ts';
import type { RecordStore } from './records/record-store.ts';
import { coveredSpan, locationReading } from './view.ts';

const LONGEST_READINGS_SPAN_MS = 3_600_000;
const DEFAULT_POINTS = 300;

interface Sources {
  records: RecordStore;
  readings: ReadingReader;
  zoneOf: DashboardDeps['zoneOf'];
}

/** A sensor's stay at the location, cut to the span asked for. */
interface Stretch extends MountedSensor {
  fromMs: number;
  toMs: number;
  beganBy: 'person' | 'turned';
}

function stretchesOf(records: RecordStore, locationId: number, fromMs: number, toMs: number): Stretch[] {
  return records.mounts
    .history(locationId, fromMs, toMs)
    .map((mount) => {
      const span = coveredSpan(mount);
      const { nodeId, sensor, turnedDeg } = mount;
      const beganBy = turnedDeg === null ? ('person' as const) : ('turned' as const);
      return {
        nodeId,
        sensor,
        fromMs: Math.max(fromMs, span.fromMs),
        toMs: Math.min(toMs, span.toMs),
        beganBy,
      };
    })
    .filter((stretch) => stretch.fromMs < stretch.toMs);
}

export function checkSpan({ fromMs, toMs }: { fromMs: number; toMs: number }): void {
  if (fromMs >= toMs) throw new Refusal('SPAN_INVALID', { field: 'fromMs' });
}

/** Asks the store of readings; its failures are told apart from failures of this server. */
export async function ask<Answer>(question: Promise<Answer>): Promise<Answer> {
  try {
    return await question;
  } catch (cause) {
    throw new Refusal('READINGS_UNAVAILABLE', { cause });
  }
}

/**
 * A location's series, put together from the sensors that stood there. Each stretch gets its share of the points
 * by length (at least one), so a slot never mixes two sensors.
 */
export async function trendOfLocation(
  sources: Sources,
  locationId: number,
  query: TrendQuery,
): Promise<Trend> {
  const { records, readings } = sources;
  const { value = 'velocityRmsMmPerS', axis = 'highest', fromMs, toMs, points = DEFAULT_POINTS } = query;
  records.assets.location(locationId);
  checkSpan(query);
  const stretches = stretchesOf(records, locationId, fromMs, toMs);
  const trend: Trend = { timeMs: [], value: [], minimum: [], maximum: [], count: [], flagged: [], stretches };
  for (const { nodeId, sensor, beganBy: _, ...span } of stretches) {
    const share = (points * (span.toMs - span.fromMs)) / (toMs - fromMs);
    const maxPoints = Math.max(1, Math.floor(share));
    const part = await ask(readings.series({ sensor: { nodeId, sensor }, value, axis, ...span, maxPoints }));
    for (const column of ['timeMs', 'count', 'flagged'] as const) trend[column].push(...part[column]);
    for (const column of ['value', 'minimum', 'maximum'] as const) trend[column].push(...part[column]);
  }
  return trend;
}

export async function readingsOfLocation(
  sources: Sources,
  locationId: number,
  { fromMs, toMs }: ReadingsQuery,
): Promise<LocationReading[]> {
  const { records, readings, zoneOf } = sources;
  const { machineClass } = records.assets.asset(records.assets.location(locationId).assetId);
  checkSpan({ fromMs, toMs });
  if (toMs - fromMs > LONGEST_READINGS_SPAN_MS) {
    throw new Refusal('SPAN_TOO_LONG', { field: 'toMs', message: 'The span is longer than one hour.' });
  }
  const found: Reading[] = [];
  for (const { nodeId, sensor, beganBy: _, ...span } of stretchesOf(records, locationId, fromMs, toMs)) {
    const part = await ask(readings.readings({ nodeId, sensor }, span.fromMs, span.toMs));
    // The store may count the end in; here it belongs to what follows.
    for (const reading of part) if (reading.startMs < span.toMs) found.push(reading);
  }
  return found.map((reading) =>
    locationReading(
      reading,
      locationId,
      machineClass,
      zoneOf,
      records.sensors.toleranceOf(reading.nodeId, reading.sensor),
    ),
  );
}
