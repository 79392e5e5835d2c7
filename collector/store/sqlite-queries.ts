import type Database from 'better-sqlite3';
import type { Reading } from '../model.ts';
import { isLeftOut, packedValue, type ReadingRow, readingOf, unpackAxes, VALUES } from './reading-row.ts';
import type { SensorKey, Series, SeriesQuery } from './reading-store.ts';
import { axisIndex, highestOf, type RollupRow, rollUpReadings, stretchAt } from './rollup-row.ts';
import { createSlots, type Slots } from './slots.ts';

/** Questions to the readings file, for its writer and its readers alike. */
export interface Queries {
  latest(): Reading[];
  readings(sensor: SensorKey, fromMs: number, toMs: number): Reading[];
  series(query: SeriesQuery): Series;
}

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;

interface SensorRow {
  id: number;
  node_id: string;
  sensor: number;
  open_minute: number;
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
  const rolledUp = Object.fromEntries(
    ['minute', 'hour'].map((level) => [
      level,
      db.prepare<[number, number, number], RollupRow>(
        `SELECT slot, count, flagged, axes, packed FROM ${level} WHERE sensor_id = ? AND slot >= ? AND slot < ? ORDER BY slot`,
      ),
    ]),
  );

  function addReadings(slots: Slots, query: SeriesQuery, sensorId: number, fromMs: number): void {
    const value = VALUES.indexOf(query.value);
    for (const row of span.iterate(sensorId, Math.ceil(fromMs / 1000), Math.ceil(query.toMs / 1000))) {
      const axes = unpackAxes(row.axes);
      const index = query.axis === 'highest' ? 0 : axes.indexOf(query.axis);
      if (index < 0) continue;
      const own =
        query.axis === 'highest' ? highestOf(row, axes.length, value) : packedValue(row.packed, index, value);
      slots.add(row.second * 1000, 1, isLeftOut(row.flags) ? 1 : 0, own, own, own);
    }
  }

  /** Whole minutes or hours, each in the slot in which its middle lies. */
  function addRollups(slots: Slots, query: SeriesQuery, rows: Iterable<RollupRow>, lengthMs: number): void {
    const value = VALUES.indexOf(query.value);
    for (const row of rows) {
      const index = axisIndex(row.axes, query.axis);
      const middleMs = (row.slot + 0.5) * lengthMs;
      if (index < 0 || middleMs < query.fromMs || middleMs >= query.toMs) continue;
      const own = stretchAt(row.packed, index, value);
      slots.add(middleMs, row.count, row.flagged, own.value, own.minimum, own.maximum);
    }
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
    // One transaction: a minute rolled up between two statements would count twice.
    series: db.transaction((query: SeriesQuery) => {
      const slots = createSlots(query);
      const sensor = sensorByKey.get(query.sensor.nodeId, query.sensor.sensor);
      if (!sensor) return slots.series();
      if (slots.widthMs < MINUTE_MS) {
        addReadings(slots, query, sensor.id, query.fromMs);
        return slots.series();
      }
      const [level, lengthMs] =
        slots.widthMs < HOUR_MS ? (['minute', MINUTE_MS] as const) : (['hour', HOUR_MS] as const);
      const range = [Math.floor(query.fromMs / lengthMs), Math.ceil(query.toMs / lengthMs)] as const;
      addRollups(slots, query, rolledUp[level]!.iterate(sensor.id, ...range), lengthMs);
      // The newest minute is not rolled up yet.
      const open = span.all(sensor.id, sensor.open_minute * 60, (sensor.open_minute + 1) * 60);
      if (open.length > 0) addRollups(slots, query, [rollUpReadings(sensor.open_minute, open)], MINUTE_MS);
      return slots.series();
    }),
  };
}
