/**
 * Every question in Flux, as text. Values are bound by the client's template, never pasted in. Only functions that
 * every InfluxDB 2 has are used, and windows with sums, smallest and largest, which it works out where the data lies.
 */
import { flux, fluxDuration, fluxExpression } from '@influxdata/influxdb-client';
import { ALERT_MEASUREMENT, OPEN_FIELD } from './alert-points.ts';
import { ADDED_FIELDS, FIELD, HIGHEST, LEVELS, type LevelName, SUFFIX, VALUE_FIELDS } from './layout.ts';
import { PLACE_MEASUREMENT } from './place-points.ts';

/** Last moment that the database knows, in milliseconds: 64 bits of nanoseconds. */
const END_OF_TIME_MS = 9_223_372_036_854;

export interface Place {
  bucket: string;
  level: LevelName;
  /** Null: every site. */
  site: string | null;
}

export interface SensorPlace extends Place {
  nodeId: string;
  sensor: number;
}

export interface Span {
  fromMs: number;
  /** Not in it any more. */
  toMs: number;
}

/** Whole seconds that lie in the span, as times that the database can hold. */
function times({ fromMs, toMs }: Span) {
  const clamp = (ms: number) => new Date(Math.min(END_OF_TIME_MS, Math.max(0, Math.ceil(ms / 1000) * 1000)));
  return { start: clamp(fromMs), stop: clamp(toMs) };
}

/** Nothing begins before it ends: the database refuses an empty range. */
export function isEmptySpan(span: Span): boolean {
  const { start, stop } = times(span);
  return stop.getTime() <= start.getTime();
}

function from({ bucket, level, site }: Place, span: Span) {
  const { start, stop: end } = times(span);
  // Points lie on whole seconds, so this excludes the end also where a server counts the end of a range in.
  const stop = new Date(end.getTime() - 1);
  const bySite = site === null ? fluxExpression('') : flux`\n  |> filter(fn: (r) => r.site == ${site})`;
  return flux`from(bucket: ${bucket})
  |> range(start: ${start}, stop: ${stop})
  |> filter(fn: (r) => r._measurement == ${LEVELS[level].measurement})${bySite}`;
}

function fromSensor(place: SensorPlace, span: Span) {
  const { nodeId, sensor } = place;
  return flux`${from(place, span)}
  |> filter(fn: (r) => r.node == ${nodeId} and r.sensor == ${String(sensor)})`;
}

const ALL_TIME: Span = { fromMs: 0, toMs: END_OF_TIME_MS };

/** All fields of the newest point of every series: rows of axis, field, time and value. */
export function latestQuery(place: Place): string {
  return flux`${from(place, ALL_TIME)}
  |> last()
  |> keep(columns: ["_time", "_field", "_value", "site", "node", "sensor", "axis"])`.toString();
}

/** All fields of one sensor's points in a span: rows of axis, field, time and value. */
export function pointsQuery(place: SensorPlace, span: Span): string {
  return flux`${fromSensor(place, span)}
  |> keep(columns: ["_time", "_field", "_value", "axis"])`.toString();
}

/** Newest minute or hour of a sensor: a row for each place it was clamped at, or none. */
export function newestRollupQuery(place: SensorPlace): string {
  return flux`${fromSensor(place, ALL_TIME)}
  |> filter(fn: (r) => r.axis == ${HIGHEST} and r._field == ${FIELD.count})
  |> last()
  |> group()
  |> keep(columns: ["_time"])`.toString();
}

/** How many readings the database counts in one minute or hour: one row, or none. */
export function rollupCountQuery(place: SensorPlace & { slot: number }): string {
  const fromMs = place.slot * LEVELS[place.level].lengthS * 1000;
  return flux`${fromSensor(place, { fromMs, toMs: fromMs + 1000 })}
  |> filter(fn: (r) => r.axis == ${HIGHEST} and r._field == ${FIELD.count})
  |> group()
  |> max()
  |> keep(columns: ["_value"])`.toString();
}

export interface AxisQuery {
  place: SensorPlace;
  axis: string;
  span: Span;
}

function fromAxis({ place, axis, span }: AxisQuery) {
  return flux`${fromSensor(place, span)}
  |> filter(fn: (r) => r.axis == ${axis})`;
}

/** Some fields of one axis as they are: rows of time, field and value. */
export function fieldsQuery(query: AxisQuery & { fields: readonly string[] }): string {
  return flux`${fromAxis(query)}
  |> filter(fn: (r) => ${anyField(query.fields)})
  |> keep(columns: ["_time", "_field", "_value"])`.toString();
}

const anyField = (fields: readonly string[]) =>
  fluxExpression(fields.map((field) => flux`r._field == ${field}`).join(' or '));

export interface WindowsQuery extends AxisQuery {
  place: SensorPlace & { level: 'minute' | 'hour' };
  /** Windows begin at `originMs` and so many nanoseconds apart. */
  originMs: number;
  widthNs: number;
  /** Name of the value's field. */
  field: string;
  combine: 'energy' | 'largest' | 'median';
}

/**
 * Minutes or hours of one axis, added up in windows where the data lies: results `count`, `flagged`, `minimum`,
 * `maximum`, and `squares` and `used` for a value that combines by energy. For one that combines by the median its
 * values themselves come as `value`, since medians of medians do not add up.
 */
export function windowsQuery(query: WindowsQuery): string {
  const { field, combine } = query;
  const widthNs = BigInt(Math.max(1, Math.floor(query.widthNs)));
  const every = fluxDuration(`${widthNs}ns`);
  const remainder = BigInt(Math.round(query.originMs * 1e6)) % widthNs;
  const offset = fluxDuration(`${remainder < 0n ? remainder + widthNs : remainder}ns`);
  const windows = (name: string, of: string, how: 'sum' | 'min' | 'max') => flux`
points
  |> filter(fn: (r) => r._field == ${of})
  |> window(every: ${every}, offset: ${offset})
  |> ${fluxExpression(how)}()
  |> duplicate(column: "_start", as: "_time")
  |> group()
  |> keep(columns: ["_time", "_value"])
  |> yield(name: ${name})
`;
  const parts = [
    windows('count', FIELD.count, 'sum'),
    windows('flagged', FIELD.flagged, 'sum'),
    windows('minimum', field + SUFFIX.minimum, 'min'),
    windows('maximum', field + SUFFIX.maximum, 'max'),
  ];
  if (combine === 'energy') {
    parts.push(
      windows('squares', field + SUFFIX.squareSum, 'sum'),
      windows('used', field + SUFFIX.used, 'sum'),
    );
  }
  if (combine === 'median') {
    parts.push(flux`
points
  |> filter(fn: (r) => r._field == ${field})
  |> group()
  |> keep(columns: ["_time", "_value"])
  |> yield(name: "value")
`);
  }
  return [flux`points = ${fromAxis(query)}\n`, ...parts].map(String).join('');
}

/** Names of the sites, and of the sensors of one site: rows of site, node and sensor. */
export function sensorsQuery(place: Place): string {
  return flux`${from(place, ALL_TIME)}
  |> filter(fn: (r) => r.axis == ${HIGHEST} and r._field == ${place.level === 'second' ? FIELD.leftOut : FIELD.count})
  |> last()
  |> group()
  |> keep(columns: ["site", "node", "sensor"])`.toString();
}

/**
 * Points of one sensor's axis `highest` per day of UTC: rows of time (begin of the day) and count, one for each place it
 * was at. Series by series, so that the database counts where the data lies: a month of seconds is 2.6 million points.
 */
export function dailyCountsQuery(place: SensorPlace, span: Span): string {
  return flux`${fromSensor(place, span)}
  |> filter(fn: (r) => r.axis == ${HIGHEST} and r._field == ${place.level === 'second' ? FIELD.leftOut : FIELD.count})
  |> window(every: 1d)
  |> count()
  |> duplicate(column: "_start", as: "_time")
  |> group()
  |> keep(columns: ["_time", "_value"])`.toString();
}

/** Every field of the newest announcement of each place of every site: rows of site, asset, location, time, field, value. */
export function placesQuery(bucket: string): string {
  const { start, stop } = times(ALL_TIME);
  return flux`from(bucket: ${bucket})
  |> range(start: ${start}, stop: ${stop})
  |> filter(fn: (r) => r._measurement == ${PLACE_MEASUREMENT})
  |> last()
  |> keep(columns: ["_time", "_field", "_value", "site", "asset", "location"])`.toString();
}

/**
 * Newest velocity of the highest axis, its uncertainty, and the newest flags, of every sensor of every site for each
 * place it was at: rows of site, node, sensor, asset, location, time, field and value.
 */
export function newestLevelsQuery(bucket: string, span: Span): string {
  const place: Place = { bucket, level: 'second', site: null };
  return flux`${from(place, span)}
  |> filter(fn: (r) => r.axis == ${HIGHEST})
  |> filter(fn: (r) => ${anyField([VALUE_FIELDS[0], ADDED_FIELDS[1], FIELD.flags])})
  |> last()
  |> keep(columns: ["_time", "_field", "_value", "site", "node", "sensor", "asset", "location"])`.toString();
}

/** Alerts of every site that are open by their newest point: rows of site, alert and time. */
export function openAlertsQuery(bucket: string): string {
  const { start, stop } = times(ALL_TIME);
  return flux`from(bucket: ${bucket})
  |> range(start: ${start}, stop: ${stop})
  |> filter(fn: (r) => r._measurement == ${ALERT_MEASUREMENT} and r._field == ${OPEN_FIELD})
  |> last()
  |> filter(fn: (r) => r._value == 1)
  |> keep(columns: ["_time", "_value", "site", "alert"])`.toString();
}

/** Every field of the newest point of some alerts: rows of site, alert, about, asset, location, time, field and value. */
export function alertsQuery(bucket: string, alerts: readonly { site: string; alert: string }[]): string {
  const { start, stop } = times(ALL_TIME);
  const any = alerts.map(({ site, alert }) => flux`(r.site == ${site} and r.alert == ${alert})`).join(' or ');
  return flux`from(bucket: ${bucket})
  |> range(start: ${start}, stop: ${stop})
  |> filter(fn: (r) => r._measurement == ${ALERT_MEASUREMENT})
  |> filter(fn: (r) => ${fluxExpression(any)})
  |> last()
  |> keep(columns: ["_time", "_field", "_value", "site", "alert", "about", "asset", "location"])`.toString();
}

/** All of a site at one level, as the delete interface takes it in place of Flux. */
export function sitePredicate(level: LevelName, site: string): string {
  const text = (value: string) => `"${value.replace(/["\\]/g, '\\$&')}"`;
  return `_measurement=${text(LEVELS[level].measurement)} AND site=${text(site)}`;
}
