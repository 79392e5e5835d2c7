import type { Reading } from '../../model.ts';
import { isLeftOut, packedValue, rowOf, unpackAxes, VALUES } from '../reading-row.ts';
import type { Series, SeriesQuery } from '../reading-store.ts';
import {
  axisIndex,
  highestOf,
  type RollupRow,
  rollUpMinutes,
  rollUpReadings,
  stretchAt,
} from '../rollup-row.ts';
import { createSlots } from '../slots.ts';
import type { InfluxClient } from './client.ts';
import {
  fieldsQuery,
  isEmptySpan,
  newestRollupQuery,
  type SensorPlace,
  type Span,
  windowsQuery,
} from './flux-queries.ts';
import {
  ENERGY_VALUES,
  FIELD,
  LARGEST_VALUE,
  LEVELS,
  type LevelName,
  SUFFIX,
  VALUE_FIELDS,
} from './layout.ts';
import { type Combine, type Part, SeriesSlots } from './series-slots.ts';

export interface SeriesDeps {
  client: InfluxClient;
  place(level: LevelName, query: SeriesQuery): SensorPlace;
  readings(fromMs: number, toMs: number): Promise<Reading[]>;
  minutes(fromMs: number, toMs: number): Promise<RollupRow[]>;
}

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
/** A slot of fewer minutes or hours is filled with them one by one. */
const FEW = 4;

interface FieldsRow {
  _time: string;
  _field: string;
  _value: number;
}

/**
 * A series from the coarsest level that its slots allow, as the SQLite store makes it: whole hours by their points,
 * what is left at both ends by minutes and seconds. The database adds up the minutes or hours of each slot, so that
 * what crosses the wire does not grow with the span; for the median it is one value for each of them.
 */
export async function influxSeries(query: SeriesQuery, deps: SeriesDeps): Promise<Series> {
  const { widthMs } = createSlots(query);
  const value = VALUES.indexOf(query.value);
  const combine: Combine = ENERGY_VALUES.includes(value)
    ? 'energy'
    : value === LARGEST_VALUE
      ? 'largest'
      : 'median';
  const slots = new SeriesSlots(combine, query.fromMs, widthMs, Math.floor(query.maxPoints));

  const field = VALUE_FIELDS[value]!;

  async function addLevel(level: 'minute' | 'hour', span: Span): Promise<void> {
    if (isEmptySpan(span)) return;
    const lengthMs = LEVELS[level].lengthS * 1000;
    await (widthMs < FEW * lengthMs ? addEach(level, span) : addWindows(level, span));
  }

  async function addWindows(level: 'minute' | 'hour', span: Span): Promise<void> {
    // A minute or hour counts to the slot in which its middle lies: the windows are moved by half of it.
    const shiftMs = LEVELS[level].lengthS * 500;
    const flux = windowsQuery({
      place: { ...deps.place(level, query), level },
      axis: query.axis,
      span,
      originMs: query.fromMs - shiftMs,
      widthNs: widthMs * 1e6,
      field,
      combine,
    });
    for (const row of await deps.client.query<{ _time: string; _value: number | null }>(flux)) {
      if (row._value === null) continue;
      slots.add(timeMs(row._time) + shiftMs, { kind: row.result as Part['kind'], value: row._value });
    }
  }

  /** Every point by itself: where a slot has few of them, adding up first would save nothing. */
  async function addEach(level: LevelName, span: Span): Promise<void> {
    if (isEmptySpan(span)) return;
    const names =
      level === 'second'
        ? { count: '', flagged: FIELD.leftOut, value: field, minimum: field, maximum: field }
        : {
            count: FIELD.count,
            flagged: FIELD.flagged,
            value: field,
            minimum: field + SUFFIX.minimum,
            maximum: field + SUFFIX.maximum,
          };
    const fields = [...new Set(Object.values(names))].filter((name) => name !== '');
    const flux = fieldsQuery({ place: deps.place(level, query), axis: query.axis, span, fields });
    const points = new Map<number, Record<string, number>>();
    for (const { _time, _field, _value } of await deps.client.query<FieldsRow>(flux)) {
      const ms = Date.parse(_time);
      const point = points.get(ms);
      if (point === undefined) points.set(ms, { [_field]: _value });
      else point[_field] = _value;
    }
    const halfMs = level === 'second' ? 0 : LEVELS[level].lengthS * 500;
    for (const [ms, point] of points) {
      const of = (name: keyof typeof names) => point[names[name]] ?? Number.NaN;
      slots.addStretch(ms + halfMs, {
        count: level === 'second' ? 1 : of('count'),
        flagged: of('flagged'),
        value: of('value'),
        minimum: of('minimum'),
        maximum: of('maximum'),
      });
    }
  }

  /** Less than a minute at an end. */
  async function addReadings(span: Span): Promise<void> {
    if (isEmptySpan(span)) return;
    for (const reading of await deps.readings(span.fromMs, span.toMs)) {
      const row = rowOf(reading);
      const axes = unpackAxes(row.axes);
      const index = query.axis === 'highest' ? 0 : axes.indexOf(query.axis);
      if (index < 0) continue;
      const own =
        query.axis === 'highest' ? highestOf(row, axes.length, value) : packedValue(row.packed, index, value);
      const flagged = isLeftOut(row.flags) ? 1 : 0;
      slots.addStretch(reading.startMs, { count: 1, flagged, value: own, minimum: own, maximum: own });
    }
  }

  /** End of the newest minute or hour that was rolled up; 0 when none was. */
  async function rolledUpTo(level: 'minute' | 'hour'): Promise<number> {
    const rows = await deps.client.query<{ _time: string }>(newestRollupQuery(deps.place(level, query)));
    return Math.max(0, ...rows.map((row) => timeMs(row._time) + LEVELS[level].lengthS * 1000));
  }

  /** The newest minute of a sensor is not rolled up yet: it is here, from its readings. */
  async function addOpenMinutes(span: Span): Promise<void> {
    const fromMs = Math.max(span.fromMs, await rolledUpTo('minute'));
    if (isEmptySpan({ fromMs, toMs: span.toMs })) return;
    const minutes = new Map<number, Reading[]>();
    for (const reading of await deps.readings(fromMs, span.toMs)) {
      const minute = Math.floor(reading.startMs / MINUTE_MS);
      minutes.set(minute, [...(minutes.get(minute) ?? []), reading]);
    }
    for (const [minute, readings] of minutes)
      addRollup(rollUpReadings(minute, readings.map(rowOf)), MINUTE_MS);
  }

  /** The hour that a sensor is in has its minutes only. */
  async function addOpenHours(span: Span): Promise<void> {
    if (isEmptySpan(span)) return;
    const hours = new Map<number, RollupRow[]>();
    for (const row of await deps.minutes(span.fromMs, span.toMs)) {
      const hour = Math.floor(row.slot / 60);
      hours.set(hour, [...(hours.get(hour) ?? []), row]);
    }
    for (const [hour, minutes] of hours) addRollup(rollUpMinutes(hour, minutes), HOUR_MS);
  }

  function addRollup(row: RollupRow, lengthMs: number): void {
    const index = axisIndex(row.axes, query.axis);
    if (index < 0) return;
    const stretch = stretchAt(row.packed, index, value);
    slots.addStretch((row.slot + 0.5) * lengthMs, { count: row.count, flagged: row.flagged, ...stretch });
  }

  async function addMinutes(span: Span): Promise<void> {
    const whole = wholeSpan(span, MINUTE_MS);
    if (whole === null) return addReadings(span);
    await Promise.all([
      addReadings({ fromMs: span.fromMs, toMs: whole.fromMs }),
      addLevel('minute', whole),
      addReadings({ fromMs: whole.toMs, toMs: span.toMs }),
    ]);
  }

  async function addHours(span: Span): Promise<void> {
    const whole = wholeSpan(span, HOUR_MS);
    if (whole === null) return addMinutes(span);
    const toMs = Math.max(whole.fromMs, Math.min(whole.toMs, await rolledUpTo('hour')));
    await Promise.all([
      addMinutes({ fromMs: span.fromMs, toMs: whole.fromMs }),
      addLevel('hour', { fromMs: whole.fromMs, toMs }),
      addOpenHours({ fromMs: toMs, toMs: whole.toMs }),
      addMinutes({ fromMs: whole.toMs, toMs: span.toMs }),
    ]);
  }

  const span = { fromMs: query.fromMs, toMs: query.toMs };
  if (widthMs < MINUTE_MS) await addEach('second', span);
  else {
    const wholeMinutes = wholeSpan(span, MINUTE_MS);
    await Promise.all([
      widthMs < HOUR_MS ? addMinutes(span) : addHours(span),
      wholeMinutes && addOpenMinutes(wholeMinutes),
    ]);
  }
  return slots.series();
}

/** The whole minutes or hours in a span; null when there is none. */
function wholeSpan({ fromMs, toMs }: Span, lengthMs: number): Span | null {
  const whole = {
    fromMs: Math.ceil(fromMs / lengthMs) * lengthMs,
    toMs: Math.floor(toMs / lengthMs) * lengthMs,
  };
  return whole.toMs > whole.fromMs ? whole : null;
}

/** Times of windows carry nanoseconds, which Date would cut off. */
function timeMs(text: string): number {
  const fraction = /\.(\d+)Z$/.exec(text)?.[1] ?? '';
  const wholeMs = Date.parse(fraction === '' ? text : text.replace(`.${fraction}`, ''));
  return wholeMs + Number(`0.${fraction || '0'}`) * 1000;
}
