import type Database from 'better-sqlite3';
import { CollectorError } from '../errors.ts';
import type { LevelName } from './influx/layout.ts';
import { stopOutbox } from './influx/outbox.ts';
import type { DailyCounts, HistoryRows, HistorySource, HistoryTarget } from './migration-copy.ts';
import type { ReadingRow } from './reading-row.ts';
import type { SensorKey } from './reading-store.ts';
import { type RollupRow, rollUpMinutes } from './rollup-row.ts';
import { coded, openForReading, openForWriting } from './sqlite-open.ts';

const BATCH = 1200;
const DAY_S = 86_400;
const LEVELS = {
  second: { table: 'reading', slot: 'second', perDay: 86_400, columns: 'second, flags, axes, packed' },
  minute: { table: 'minute', slot: 'slot', perDay: 1440, columns: 'slot, count, flagged, axes, packed' },
  hour: { table: 'hour', slot: 'slot', perDay: 24, columns: 'slot, count, flagged, axes, packed' },
} as const;

interface SqliteSide {
  /** Second of the newest reading of all sensors; null when there is none. */
  newestSecond(): number | null;
  close(): void;
}

/** The readings file as a source; a station may write it meanwhile. Null while there is none. */
export function sqliteHistorySource(file: string): (HistorySource & SqliteSide) | null {
  const db = openForReading(file);
  if (db === null) return null;
  const questions = questionsTo(db, file);
  return {
    ...questions,
    async *rows(level, sensor, fromSlot, untilS) {
      const id = questions.sensorId(sensor);
      if (id === undefined) return;
      for (let from = fromSlot; ; ) {
        const batch = questions.batch(level, id, from, untilS);
        if (batch.rows.length === 0) return;
        yield batch;
        const last = batch.rows.at(-1)!;
        from = ('second' in last ? last.second : last.slot) + 1;
      }
    },
    close: () => void db.close(),
  };
}

/** The readings file as a target, its station stopped. What it has already stays as it is, or fuller. */
export function sqliteHistoryTarget(file: string): HistoryTarget & SqliteSide {
  const db = openForWriting(file);
  // What is copied from a database needs not be sent back to it.
  stopOutbox(file);
  const questions = questionsTo(db, file);
  const addSensor = db.prepare(
    'INSERT INTO sensor (node_id, sensor, open_minute) VALUES (?, ?, ?) ON CONFLICT DO NOTHING',
  );
  const putReading = db.prepare('INSERT INTO reading VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING');
  const putRollup = (table: string) =>
    db.prepare(
      `INSERT INTO ${table} VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET count = excluded.count,
       flagged = excluded.flagged, axes = excluded.axes, packed = excluded.packed WHERE excluded.count > count`,
    );
  const rollups = { minute: putRollup('minute'), hour: putRollup('hour') };
  const sensors = db.prepare<[], { id: number; open_minute: number }>('SELECT id, open_minute FROM sensor');
  const newestSecond = db
    .prepare<[number], number | null>('SELECT max(second) FROM reading WHERE sensor_id = ?')
    .pluck();
  const newestMinute = db
    .prepare<[number], number | null>('SELECT max(slot) FROM minute WHERE sensor_id = ?')
    .pluck();
  const minutesOf = db.prepare<[number, number, number], RollupRow>(
    'SELECT slot, count, flagged, axes, packed FROM minute WHERE sensor_id = ? AND slot >= ? AND slot < ?',
  );
  const setOpen = db.prepare('UPDATE sensor SET open_minute = ? WHERE id = ?');

  const put = db.transaction((sensor: SensorKey, batch: HistoryRows) => {
    if (questions.sensorId(sensor) === undefined) addSensor.run(sensor.nodeId, sensor.sensor, 0);
    const id = questions.sensorId(sensor)!;
    if (batch.level === 'second') {
      for (const row of batch.rows) putReading.run(id, row.second, row.flags, row.axes, row.packed);
    } else {
      for (const row of batch.rows) {
        rollups[batch.level].run(id, row.slot, row.count, row.flagged, row.axes, row.packed);
      }
    }
  });

  /** Leaves the file as a store leaves it: the newest minute open, the hour of it rolled up as far as it goes. */
  const finish = db.transaction(() => {
    for (const { id, open_minute: was } of sensors.all()) {
      const open = Math.max(
        was,
        Math.floor((newestSecond.get(id) ?? 0) / 60),
        (newestMinute.get(id) ?? -1) + 1,
      );
      setOpen.run(open, id);
      const hour = Math.floor(open / 60);
      const row = rollUpMinutes(hour, minutesOf.all(id, hour * 60, hour * 60 + 60));
      if (row.count > 0) rollups.hour.run(id, hour, row.count, row.flagged, row.axes, row.packed);
    }
  });

  return {
    ...questions,
    put: async (sensor, batch) => coded(file, () => put.immediate(sensor, batch)),
    finish: async () => coded(file, () => finish.immediate()),
    close: () => void db.close(),
  };
}

function questionsTo(db: Database.Database, file: string) {
  const sensors = db.prepare<[], { node_id: string; sensor: number }>(
    'SELECT node_id, sensor FROM sensor ORDER BY node_id, sensor',
  );
  const sensorId = db
    .prepare<[string, number], number>('SELECT id FROM sensor WHERE node_id = ? AND sensor = ?')
    .pluck();
  // Only hours that are over.
  const limit = (level: LevelName) =>
    `AND ${LEVELS[level].slot} < ?${level === 'hour' ? ' AND slot < (SELECT open_minute / 60 FROM sensor WHERE id = sensor_id)' : ''}`;
  const end = (level: LevelName, untilS: number) =>
    Math.min(Number.MAX_SAFE_INTEGER, Math.floor((untilS * LEVELS[level].perDay) / DAY_S));
  const newest = db
    .prepare<[], number | null>(
      'SELECT max((SELECT max(second) FROM reading WHERE sensor_id = sensor.id)) FROM sensor',
    )
    .pluck();
  const prepared = Object.fromEntries(
    Object.entries(LEVELS).map(([level, { table, slot, perDay, columns }]) => [
      level,
      {
        counts: db
          .prepare<[number, number], [number, number]>(
            `SELECT ${slot} / ${perDay}, count(*) FROM ${table} WHERE sensor_id = ? ${limit(level as LevelName)} GROUP BY 1`,
          )
          .raw(),
        batch: db.prepare<[number, number, number], ReadingRow | RollupRow>(
          `SELECT ${columns} FROM ${table} WHERE sensor_id = ? AND ${slot} >= ? ${limit(level as LevelName)} ORDER BY ${slot} LIMIT ${BATCH}`,
        ),
      },
    ]),
  );
  const of = (level: LevelName) => {
    const found = prepared[level];
    if (found === undefined) throw new CollectorError('COLLECTOR_FAILED', `no level ${level}`);
    return found;
  };
  return {
    sensorId: (sensor: SensorKey) => sensorId.get(sensor.nodeId, sensor.sensor),
    batch: (level: LevelName, id: number, from: number, untilS: number) =>
      coded(file, () => ({ level, rows: of(level).batch.all(id, from, end(level, untilS)) }) as HistoryRows),
    newestSecond: (): number | null => coded(file, () => newest.get() ?? null),
    sensors: async (): Promise<SensorKey[]> =>
      coded(file, () => sensors.all().map(({ node_id: nodeId, sensor }) => ({ nodeId, sensor }))),
    counts: async (level: LevelName, sensor: SensorKey, untilS: number): Promise<DailyCounts> =>
      coded(file, () => {
        const id = sensorId.get(sensor.nodeId, sensor.sensor);
        return new Map(id === undefined ? [] : of(level).counts.all(id, end(level, untilS)));
      }),
  };
}
