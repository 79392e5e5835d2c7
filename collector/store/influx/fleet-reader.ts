import type { Flag } from '../../model.ts';
import { type FleetAlert, fleetAlertOf } from './alert-points.ts';
import { createInfluxClient, type InfluxClient } from './client.ts';
import { alertsQuery, newestLevelsQuery, openAlertsQuery, placesQuery } from './flux-queries.ts';
import { ADDED_FIELDS, FIELD, splitNames, VALUE_FIELDS } from './layout.ts';
import { PLACES_FIELD, type Place, placeOf } from './place-points.ts';
import { checkInflux, type InfluxSettings } from './settings.ts';

/** Newest of one sensor of a site. */
export interface SiteLevel {
  nodeId: string;
  sensor: number;
  /** Where it was clamped then; null when the station did not know. */
  mount: { asset: string; location: string } | null;
  /** Begin of the newest second, and what its reading was flagged with. */
  heardMs: number;
  flags: Flag[];
  /** Velocity RMS of the highest axis in the newest second that was not spoilt, which may be earlier. */
  velocity: { rmsMmPerS: number; uncertaintyMmPerS: number | null; atMs: number } | null;
}

/** What one station has told the database. */
export interface FleetSite {
  site: string;
  /** When it last told which places it has; null when it never did. */
  announcedMs: number | null;
  places: Place[];
  levels: SiteLevel[];
  /** Open ones, the newest told first. */
  alerts: FleetAlert[];
}

/** Reads every site that writes to one database. */
export interface FleetReader {
  /** In the order of their names. */
  sites(): Promise<FleetSite[]>;
}

/** Readings that are older are history: a station keeps its seconds about as long. */
const NEWEST_WITHIN_MS = 31 * 86_400_000;

interface Row {
  _time: string;
  _field: string;
  _value: string | number;
  site: string;
  asset?: string;
  location?: string;
}
interface AlertRow extends Row {
  alert: string;
  about: string;
}
interface LevelRow extends Row {
  node: string;
  sensor: string;
}

/** Points gathered from their fields: tags, and each field with its own time. */
interface Gathered<Kind extends Row> {
  tags: Kind;
  fields: Map<string, { ms: number; value: string | number }>;
}

/** @throws CollectorError when asked and the database does not answer, or refuses */
export function openFleetReader(settings: InfluxSettings, now: () => number = Date.now): FleetReader {
  const client = createInfluxClient(checkInflux(settings));
  return {
    async sites() {
      const nowMs = now();
      // Stations' clocks are not ours: what one of them dates a little ahead counts too.
      const span = { fromMs: nowMs - NEWEST_WITHIN_MS, toMs: nowMs + 86_400_000 };
      const [places, levels, alerts] = await Promise.all([
        client.query<Row>(placesQuery(client.bucket('hour'))),
        client.query<LevelRow>(newestLevelsQuery(client.bucket('second'), span)),
        openAlerts(client),
      ]);
      const sites = new Map<string, FleetSite>();
      const siteOf = (site: string): FleetSite => {
        let found = sites.get(site);
        if (found === undefined) {
          found = { site, announcedMs: null, places: [], levels: [], alerts: [] };
          sites.set(site, found);
        }
        return found;
      };
      for (const [site, announced] of announcements(places)) Object.assign(siteOf(site), announced);
      for (const { site, ...level } of newestLevels(levels)) siteOf(site).levels.push(level);
      for (const { site, ...alert } of alerts) siteOf(site).alerts.push(alert);
      return [...sites.values()].sort((a, b) => (a.site < b.site ? -1 : 1));
    },
  };
}

/** More than these nobody reads; the newest are told. */
const MOST_ALERTS = 200;

async function openAlerts(client: InfluxClient): Promise<(FleetAlert & { site: string })[]> {
  const bucket = client.bucket('hour');
  const open = (await client.query<AlertRow>(openAlertsQuery(bucket)))
    .sort((a, b) => Date.parse(b._time) - Date.parse(a._time))
    .slice(0, MOST_ALERTS);
  if (open.length === 0) return [];
  const rows = await client.query<AlertRow>(alertsQuery(bucket, open));
  const key = ({ site, alert }: AlertRow) => JSON.stringify([site, alert]);
  const byAlert = new Map(gather(rows, key).map((point) => [key(point.tags), point]));
  return open.flatMap((row) => {
    const point = byAlert.get(key(row));
    if (point === undefined) return [];
    const { tags, fields } = point;
    // What the newest point does not have is not so any more.
    const newestMs = Math.max(...[...fields.values()].map(({ ms }) => ms));
    const own = [...fields].filter(([, { ms }]) => ms === newestMs);
    const alert = fleetAlertOf(tags, new Map(own.map(([name, { value }]) => [name, value])));
    return alert === null ? [] : [{ ...alert, site: tags.site }];
  });
}

function gather<Kind extends Row>(rows: readonly Kind[], key: (row: Kind) => string): Gathered<Kind>[] {
  const found = new Map<string, Gathered<Kind>>();
  for (const row of rows) {
    const name = key(row);
    const one = found.get(name) ?? { tags: row, fields: new Map() };
    found.set(name, one);
    const ms = Date.parse(row._time);
    // A bucket may answer in several tables for one field.
    if (ms >= (one.fields.get(row._field)?.ms ?? Number.NEGATIVE_INFINITY))
      one.fields.set(row._field, { ms, value: row._value });
  }
  return [...found.values()];
}

/** Of each site what its newest announcement named. */
function announcements(rows: readonly Row[]): Map<string, { announcedMs: number; places: Place[] }> {
  const points = gather(rows, ({ site, asset, location }) => JSON.stringify([site, asset, location]));
  const found = new Map<string, { announcedMs: number; places: Place[] }>();
  for (const { tags, fields } of points) {
    const announced = fields.get(PLACES_FIELD);
    if (announced) found.set(tags.site, { announcedMs: announced.ms, places: [] });
  }
  for (const { tags, fields } of points) {
    const announcement = found.get(tags.site);
    if (announcement === undefined || !tags.asset) continue;
    const own = [...fields].filter(([, { ms }]) => ms === announcement.announcedMs);
    const place = placeOf(
      { asset: tags.asset, location: tags.location || null },
      new Map(own.map(([name, { value }]) => [name, value])),
    );
    if (place !== null) announcement.places.push(place);
  }
  for (const { places } of found.values()) places.sort(byNumber);
  return found;
}

/** As the station itself lists them. */
function byNumber(a: Place, b: Place): number {
  return Number(a.asset) - Number(b.asset) || Number(a.location?.id ?? 0) - Number(b.location?.id ?? 0);
}

function newestLevels(rows: readonly LevelRow[]): (SiteLevel & { site: string })[] {
  const bySensor = new Map<string, SiteLevel & { site: string }>();
  // A sensor that was clamped elsewhere meanwhile is in the database once for each place.
  const stays = gather(rows, ({ site, node, sensor, asset, location }) =>
    JSON.stringify([site, node, sensor, asset, location]),
  );
  for (const stay of stays) {
    const level = levelOf(stay);
    const key = `${level.site} ${level.nodeId} ${level.sensor}`;
    if (level.heardMs > (bySensor.get(key)?.heardMs ?? Number.NEGATIVE_INFINITY)) bySensor.set(key, level);
  }
  return [...bySensor.entries()]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([, level]) => level)
    .filter(({ heardMs }) => Number.isFinite(heardMs));
}

function levelOf({ tags, fields }: Gathered<LevelRow>): SiteLevel & { site: string } {
  const flags = fields.get(FIELD.flags);
  const velocity = fields.get(VALUE_FIELDS[0]);
  const uncertainty = fields.get(ADDED_FIELDS[1]);
  return {
    site: tags.site,
    nodeId: tags.node,
    sensor: Number(tags.sensor),
    mount: tags.asset && tags.location ? { asset: tags.asset, location: tags.location } : null,
    heardMs: flags?.ms ?? Number.NEGATIVE_INFINITY,
    flags: splitNames<Flag>(String(flags?.value ?? '')),
    velocity: velocity
      ? {
          rmsMmPerS: Number(velocity.value),
          uncertaintyMmPerS: uncertainty?.ms === velocity.ms ? Number(uncertainty.value) : null,
          atMs: velocity.ms,
        }
      : null,
  };
}
