import type Database from 'better-sqlite3';
import type { ReadingRow } from './reading-row.ts';
import type { SensorKey } from './reading-store.ts';
import { type RollupRow, rollUpMinutes, rollUpReadings } from './rollup-row.ts';

/**
 * Keeps minutes and hours in step with the readings, inside the transaction that writes them. A minute is rolled
 * up when the sensor's newest reading has left it, and again whenever a late reading falls into it: always from
 * the readings themselves, so that order and repetition do not matter.
 */
export interface Rollups {
  /** Row number of the sensor; a new one is made when it is not known. */
  sensorOf(key: SensorKey, second: number): number;
  touch(sensorId: number, second: number): void;
  /** Rolls up what was touched. */
  finish(): void;
  /** After a rolled-back transaction: what was remembered of it is not true. */
  forget(): void;
}

export function prepareRollups(db: Database.Database): Rollups {
  const find = db.prepare<[string, number], { id: number; open_minute: number }>(
    'SELECT id, open_minute FROM sensor WHERE node_id = ? AND sensor = ?',
  );
  const add = db.prepare('INSERT INTO sensor (node_id, sensor, open_minute) VALUES (?, ?, ?)');
  const setOpen = db.prepare('UPDATE sensor SET open_minute = ? WHERE id = ?');
  const readingsOf = db.prepare<[number, number, number], ReadingRow>(
    'SELECT second, flags, axes, packed FROM reading WHERE sensor_id = ? AND second >= ? AND second < ?',
  );
  const minutesOf = db.prepare<[number, number, number], RollupRow>(
    'SELECT slot, count, flagged, axes, packed FROM minute WHERE sensor_id = ? AND slot >= ? AND slot < ?',
  );
  const putMinute = db.prepare('REPLACE INTO minute VALUES (?, ?, ?, ?, ?, ?)');
  const putHour = db.prepare('REPLACE INTO hour VALUES (?, ?, ?, ?, ?, ?)');

  const ids = new Map<string, number>();
  const openMinutes = new Map<number, number>();
  const touched = new Map<number, Set<number>>();

  function rollUp(sensorId: number, minutes: Iterable<number>): void {
    const hours = new Set<number>();
    for (const minute of minutes) {
      const row = rollUpReadings(minute, readingsOf.all(sensorId, minute * 60, minute * 60 + 60));
      if (row.count === 0) continue;
      putMinute.run(sensorId, minute, row.count, row.flagged, row.axes, row.packed);
      hours.add(Math.floor(minute / 60));
    }
    for (const hour of hours) {
      const row = rollUpMinutes(hour, minutesOf.all(sensorId, hour * 60, hour * 60 + 60));
      putHour.run(sensorId, hour, row.count, row.flagged, row.axes, row.packed);
    }
  }

  return {
    sensorOf({ nodeId, sensor }, second) {
      const key = `${nodeId}/${sensor}`;
      const known = ids.get(key);
      if (known !== undefined) return known;
      const minute = Math.floor(second / 60);
      const row = find.get(nodeId, sensor);
      const id = row?.id ?? Number(add.run(nodeId, sensor, minute).lastInsertRowid);
      ids.set(key, id);
      openMinutes.set(id, row?.open_minute ?? minute);
      return id;
    },
    touch(sensorId, second) {
      let minutes = touched.get(sensorId);
      if (minutes === undefined) {
        minutes = new Set();
        touched.set(sensorId, minutes);
      }
      minutes.add(Math.floor(second / 60));
    },
    finish() {
      for (const [sensorId, minutes] of touched) {
        const wasOpen = openMinutes.get(sensorId)!;
        const open = [...minutes].reduce((a, b) => Math.max(a, b), wasOpen);
        if (open > wasOpen) {
          minutes.add(wasOpen);
          openMinutes.set(sensorId, open);
          setOpen.run(open, sensorId);
        }
        minutes.delete(open);
        rollUp(sensorId, minutes);
      }
      touched.clear();
    },
    forget() {
      ids.clear();
      openMinutes.clear();
      touched.clear();
    },
  };
}
