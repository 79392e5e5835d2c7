import type Database from 'better-sqlite3';
import type { Reading } from '../model.ts';
import { isLeftOut, packedValue, type ReadingRow, readingOf, unpackAxes, VALUES } from './reading-row.ts';
import type { MeanSpectrum, SensorKey, Series, SeriesQuery } from './reading-store.ts';
import { axisIndex, highestOf, rollUpReadings, stretchAt } from './rollup-row.ts';
import { createSlots, type Slots } from './slots.ts';
import { prepareSpectrumQueries } from './spectra.ts';

/** Questions to the readings file, for its writer and its readers alike. */
export interface Queries {
  latest(): Reading[];
  readings(sensor: SensorKey, fromMs: number, toMs: number): Reading[];
  series(query: SeriesQuery): Series;
  spectrum(sensor: SensorKey, fromMs: number, toMs: number): MeanSpectrum | null;
  nearestSpectrumMs(sensor: SensorKey, atMs: number, fromMs: number, toMs: number): number | null;
}

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;

interface SensorRow {
  id: number;
  node_id: string;
  sensor: number;
  open_minute: number;
}

/** Columns of a rolled-up row in the order of their SELECT: arrays are read faster than objects. */
type RawRollup = [slot: number, count: number, flagged: number, axes: number, packed: Buffer];

/** What is asked, and where the answer is gathered. */
interface Target {
  slots: Slots;
  query: SeriesQuery;
  sensor: SensorRow;
  /** Number of the value asked for. */
  value: number;
}

export function prepareQueries(db: Database.Database): Queries {
  const sensors = db.prepare<[], SensorRow>('SELECT * FROM sensor');
  const sensorByKey = db.prepare<[string, number], SensorRow>(
    'SELECT * FROM sensor WHERE node_id = ? AND sensor = ?',
  );
  const newest = db.prepare<[number], ReadingRow>(
    'SELECT second, flags, axes, packed FROM reading WHERE sensor_id = ? ORDER BY second DESC LIMIT 1',
  );
  const span = db.prepare<[number, number, number], ReadingRow>(
    'SELECT second, flags, axes, packed FROM reading WHERE sensor_id = ? AND second >= ? AND second < ? ORDER BY second',
  );
  const rollups = (level: 'minute' | 'hour') =>
    db
      .prepare<[number, number, number], RawRollup>(
        `SELECT slot, count, flagged, axes, packed FROM ${level} WHERE sensor_id = ? AND slot >= ? AND slot < ? ORDER BY slot`,
      )
      .raw();
  const minutes = rollups('minute');
  const hours = rollups('hour');
  const spectra = prepareSpectrumQueries(db);

  function addRollup(to: Target, [slot, count, flagged, axes, packed]: RawRollup, lengthMs: number): void {
    const index = axisIndex(axes, to.query.axis);
    if (index < 0) return;
    const { value, minimum, maximum } = stretchAt(packed, index, to.value);
    to.slots.add((slot + 0.5) * lengthMs, count, flagged, value, minimum, maximum);
  }

  function addReadings({ slots, query, sensor, value }: Target, fromMs: number, toMs: number): void {
    for (const row of span.iterate(sensor.id, Math.ceil(fromMs / 1000), Math.ceil(toMs / 1000))) {
      const axes = unpackAxes(row.axes);
      const index = query.axis === 'highest' ? 0 : axes.indexOf(query.axis);
      if (index < 0) continue;
      const own =
        query.axis === 'highest' ? highestOf(row, axes.length, value) : packedValue(row.packed, index, value);
      slots.add(row.second * 1000, 1, isLeftOut(row.flags) ? 1 : 0, own, own, own);
    }
  }

  /** Whole minutes by their rows, what is left at both ends by readings. */
  function addMinutes(to: Target, fromMs: number, toMs: number): void {
    const [first, end] = [Math.ceil(fromMs / MINUTE_MS), Math.floor(toMs / MINUTE_MS)];
    if (end <= first) {
      addReadings(to, fromMs, toMs);
      return;
    }
    addReadings(to, fromMs, first * MINUTE_MS);
    for (const row of minutes.iterate(to.sensor.id, first, end)) addRollup(to, row, MINUTE_MS);
    addOpenMinute(to, first, end);
    addReadings(to, end * MINUTE_MS, toMs);
  }

  function addHours(to: Target, fromMs: number, toMs: number): void {
    const [first, end] = [Math.ceil(fromMs / HOUR_MS), Math.floor(toMs / HOUR_MS)];
    if (end <= first) {
      addMinutes(to, fromMs, toMs);
      return;
    }
    addMinutes(to, fromMs, first * HOUR_MS);
    for (const row of hours.iterate(to.sensor.id, first, end)) addRollup(to, row, HOUR_MS);
    addOpenMinute(to, first * 60, end * 60);
    addMinutes(to, end * HOUR_MS, toMs);
  }

  /** The newest minute is not rolled up yet. */
  function addOpenMinute(to: Target, first: number, end: number): void {
    const { id, open_minute: open } = to.sensor;
    if (open < first || open >= end) return;
    const rows = span.all(id, open * 60, open * 60 + 60);
    if (rows.length === 0) return;
    const { slot, count, flagged, axes, packed } = rollUpReadings(open, rows);
    addRollup(to, [slot, count, flagged, axes, packed], MINUTE_MS);
  }

  return {
    latest() {
      return sensors.all().flatMap((sensor) => {
        const row = newest.get(sensor.id);
        return row ? [readingOf(sensor.node_id, sensor.sensor, row)] : [];
      });
    },
    readings({ nodeId, sensor }, fromMs, toMs) {
      const found = sensorByKey.get(nodeId, sensor);
      if (!found) return [];
      const rows = span.all(found.id, Math.ceil(fromMs / 1000), Math.ceil(toMs / 1000));
      return rows.map((row) => readingOf(nodeId, sensor, row));
    },
    spectrum({ nodeId, sensor }, fromMs, toMs) {
      const found = sensorByKey.get(nodeId, sensor);
      return found ? spectra.spectrum(found.id, fromMs, toMs) : null;
    },
    nearestSpectrumMs({ nodeId, sensor }, atMs, fromMs, toMs) {
      const found = sensorByKey.get(nodeId, sensor);
      return found ? spectra.nearestMs(found.id, atMs, fromMs, toMs) : null;
    },
    // One transaction: a minute rolled up between two statements would count twice.
    series: db.transaction((query: SeriesQuery) => {
      const slots = createSlots(query);
      const sensor = sensorByKey.get(query.sensor.nodeId, query.sensor.sensor);
      if (!sensor) return slots.series();
      const to = { slots, query, sensor, value: VALUES.indexOf(query.value) };
      const add = slots.widthMs < MINUTE_MS ? addReadings : slots.widthMs < HOUR_MS ? addMinutes : addHours;
      add(to, query.fromMs, query.toMs);
      return slots.series();
    }),
  };
}
