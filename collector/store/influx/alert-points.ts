/**
 * Alerts as points, so that a fleet of many sites can be read. Measurement `alert`: one point each time an alert is
 * raised, acknowledged or cleared, at that second. Tags: `site`, `alert` (its number at the station), `about`, and where it has them
 * `asset` and `location`: the numbers that readings are tagged with.
 */
import { escape as inLine } from '@influxdata/influxdb-client';
import { createInfluxClient } from './client.ts';
import { checkInflux, type InfluxSettings } from './settings.ts';

export const ALERT_MEASUREMENT = 'alert';
/** 1 while it is open, on every point. */
export const OPEN_FIELD = 'open';

export interface AlertPoint {
  atMs: number;
  /** When it began, by the measurements. */
  sinceMs: number;
  /** Somebody knows of it. */
  isAcknowledged: boolean;
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
    `${OPEN_FIELD}=${isOpen ? 1 : 0}i`,
    `acknowledged=${point.isAcknowledged ? 1 : 0}i`,
    `since_s=${Math.floor(point.sinceMs / 1000)}i`,
    `title=${inLine.quoted(title.replace(/\s+/g, ' ').trim())}`,
    `unit=${inLine.quoted(unit)}`,
    ...number('value', value),
    ...number('limit', limit),
    ...number('false_alarms_per_year', point.falseAlarmsPerYear),
  ];
  return `${ALERT_MEASUREMENT},${tags.join(',')} ${fields.join(',')} ${Math.floor(atMs / 1000)}`;
}

/** An open alert of a site, as it was last told. */
export interface FleetAlert {
  /** Its number at its station. */
  id: string;
  about: string;
  asset: string | null;
  location: string | null;
  title: string;
  value: number | null;
  limit: number | null;
  unit: string;
  sinceMs: number;
  isAcknowledged: boolean;
}

/** Fields of the newest point of an alert; null when they are not whole. */
export function fleetAlertOf(
  tags: { alert: string; about: string; asset?: string; location?: string },
  fields: ReadonlyMap<string, string | number>,
): FleetAlert | null {
  const number = (name: string) => (fields.has(name) ? Number(fields.get(name)) : null);
  const title = fields.get('title');
  if (title === undefined) return null;
  return {
    id: tags.alert,
    about: tags.about,
    asset: tags.asset || null,
    location: tags.location || null,
    title: String(title),
    value: number('value'),
    limit: number('limit'),
    unit: String(fields.get('unit') ?? ''),
    sinceMs: (number('since_s') ?? 0) * 1000,
    isAcknowledged: number('acknowledged') === 1,
  };
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
