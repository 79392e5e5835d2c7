import type { exchange, SensorKey } from '../../../collector/index.ts';
import type { RecordStore } from '../../server/index.ts';
import { StationError } from '../errors.ts';

export interface Span {
  fromMs: number;
  toMs: number;
}

/** Which sensors, and when, an asset or one location of it was measured with; all sensors without either. */
export function partsOf(
  records: RecordStore,
  sensors: readonly SensorKey[],
  wanted: { asset?: string; location?: string },
  span: Span,
): exchange.ExportPart[] {
  if (wanted.asset === undefined && wanted.location === undefined) {
    return sensors.map((sensor) => ({
      sensor,
      fromS: Math.ceil(span.fromMs / 1000),
      untilS: Math.ceil(span.toMs / 1000),
    }));
  }
  const assetId = wanted.asset === undefined ? undefined : findAsset(records, wanted.asset);
  return findLocations(records, assetId, wanted.location).flatMap((locationId) =>
    records.mounts
      .history(locationId, span.fromMs, span.toMs)
      .map(({ nodeId, sensor, fromMs, toMs }) => ({
        sensor: { nodeId, sensor },
        // The seconds in which the sensor was put on or taken off hold the hand that did it.
        fromS: Math.ceil(Math.max(fromMs, span.fromMs) / 1000),
        untilS: Math.floor(Math.min(toMs ?? span.toMs, span.toMs) / 1000),
      }))
      .filter(({ fromS, untilS }) => fromS < untilS),
  );
}

/** By number or by name; people may have given one name twice, and then the number is asked for. */
export function findAsset(records: RecordStore, wanted: string): number {
  return findOne(records.assets.list(), wanted, 'asset').id;
}

function findLocations(
  records: RecordStore,
  assetId: number | undefined,
  wanted: string | undefined,
): number[] {
  const locations = records.assets.locations(assetId);
  if (wanted === undefined) return locations.map(({ id }) => id);
  return [findOne(locations, wanted, 'location').id];
}

function findOne<Record extends { id: number; name: string }>(
  all: readonly Record[],
  wanted: string,
  what: string,
): Record {
  const found = all.filter(({ id, name }) => name === wanted || String(id) === wanted);
  if (found.length === 1) return found[0]!;
  const list = (found.length > 1 ? found : all).map(({ id, name }) => `${id} (${name})`).join(', ');
  throw new StationError(
    'BAD_SETTING',
    found.length > 1 ? `'${wanted}' is the name of more than one ${what}` : `there is no ${what} '${wanted}'`,
    list === '' ? `The station knows no ${what}.` : `Give one of these numbers: ${list}.`,
  );
}

/** Names of the places that sensors were at, looked up once for each mount. */
export function placeNames(
  records: RecordStore,
): (sensor: SensorKey, atMs: number) => exchange.PlaceName | null {
  let last: { key: string; fromMs: number; toMs: number; name: exchange.PlaceName } | null = null;
  return ({ nodeId, sensor }, atMs) => {
    const key = `${nodeId} ${sensor}`;
    if (last?.key === key && atMs >= last.fromMs && atMs < last.toMs) return last.name;
    const mount = records.mounts.ofSensor({ nodeId, sensor }, atMs);
    if (mount === null) return null;
    const location = records.assets.location(mount.locationId);
    const name = { asset: records.assets.asset(location.assetId).name, location: location.name };
    last = { key, fromMs: mount.fromMs, toMs: mount.toMs ?? Number.MAX_SAFE_INTEGER, name };
    return name;
  };
}
