/**
 * Alerts as points, so that a fleet of many sites can be read. Measurement `alert`: one point each time an alert is
 * raised or cleared, at that second. Tags: `site`, `alert` (its number at the station), `about`, and where it has them
 * `asset` and `location`: the numbers that readings are tagged with.
 */
import { escape as inLine } from '@influxdata/influxdb-client';
import { createInfluxClient } from './client.ts';
import { checkInflux, type InfluxSettings } from './settings.ts';

export interface AlertPoint {
  atMs: number;
  alertId: number;
  isOpen: boolean;
  /** What kind of alert. */
  about: string;
  assetId: number | null;
  locationId: number | null;
  /** In words, without people, plates or routes. */
  title: string;
  value: number | null;
  limit: number | null;
  unit: string;
  falseAlarmsPerYear: number | null;
}

export function alertLine(site: string, point: AlertPoint): string {
  const { atMs, alertId, isOpen, about, assetId, locationId, title, value, limit, unit } = point;
  const number = (name: string, of: number | null) =>
    of === null || !Number.isFinite(of) ? [] : [`${name}=${Number(of.toPrecision(9))}`];
  const tags = [
    `alert=${alertId},about=${inLine.tag(about)}`,
    ...(assetId === null ? [] : [`asset=${assetId}`]),
    ...(locationId === null ? [] : [`location=${locationId}`]),
    `site=${inLine.tag(site)}`,
  ];
  const fields = [
    `open=${isOpen ? 1 : 0}i`,
    `title=${inLine.quoted(title.replace(/\s+/g, ' ').trim())}`,
    `unit=${inLine.quoted(unit)}`,
    ...number('value', value),
    ...number('limit', limit),
    ...number('false_alarms_per_year', point.falseAlarmsPerYear),
  ];
  return `alert,${tags.join(',')} ${fields.join(',')} ${Math.floor(atMs / 1000)}`;
}

/** Writes alerts where hours are written, which are kept longest. Rejects with a CollectorError; writing again is harmless. */
export function alertPointWriter(
  settings: InfluxSettings,
  site: string,
): (points: readonly AlertPoint[]) => Promise<void> {
  const client = createInfluxClient(checkInflux(settings));
  return (points) =>
    client.write(
      'hour',
      points.map((point) => alertLine(site, point)),
    );
}
