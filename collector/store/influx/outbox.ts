import { existsSync } from 'node:fs';
import Database from 'better-sqlite3';
import type { ReadingRow } from '../reading-row.ts';
import type { RollupRow } from '../rollup-row.ts';
import { coded } from '../sqlite-open.ts';
import type { LevelName } from './layout.ts';

/** A row of the readings file. */
export type FiledRow = { nodeId: string; sensor: number } & (
  | { level: 'second'; row: ReadingRow }
  | { level: 'minute' | 'hour'; row: RollupRow }
);

/** A row that the database does not have yet; `isFirst`: there is no earlier one of its sensor and level. */
export type OutboxEntry = FiledRow & { seq: number; isFirst: boolean };

export type DeliveryCount = 'delivered' | 'dropped' | 'rejected';

/**
 * What of the readings file is still to be sent, oldest change first. It is the spool on disk: triggers write it
 * inside the transaction that writes readings, rollups and journal position, so a reading is never committed
 * without being in it, and the row itself, kept once, is what is sent.
 */
export interface Outbox {
  /** Up to `limit` oldest entries. */
  next(limit: number): OutboxEntry[];
  /** Removes entries that were read; one that was written again meanwhile stays. */
  remove(entries: readonly OutboxEntry[], as: 'delivered' | 'rejected'): void;
  waiting(): number;
  /** Second of the oldest reading that waits; null when none does. */
  oldestSecond(): number | null;
  counts(): Record<DeliveryCount, number>;
  /** Up to which number something beside the readings was sent; 0 before anything was. */
  told(what: string): number;
  noteTold(what: string, upTo: number): void;
  close(): void;
}

interface OutboxRow {
  seq: number;
  level: number;
  sensor_id: number;
  slot: number;
}

const NUMBERS: readonly LevelName[] = ['second', 'minute', 'hour'];
const TABLES = [
  { table: 'reading', slot: 'second', level: 0, when: '' },
  { table: 'minute', slot: 'slot', level: 1, when: '' },
  // The hour that a sensor is in is written again with every minute: it is sent when it is over.
  {
    table: 'hour',
    slot: 'slot',
    level: 2,
    when: 'WHEN new.slot < (SELECT open_minute / 60 FROM sensor WHERE id = new.sensor_id)',
  },
] as const;

const SCHEMA = `
  CREATE TABLE IF NOT EXISTS outbox (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    level INTEGER NOT NULL,
    sensor_id INTEGER NOT NULL,
    slot INTEGER NOT NULL,
    UNIQUE (level, sensor_id, slot)
  );
  CREATE TABLE IF NOT EXISTS outbox_count (name TEXT PRIMARY KEY, value INTEGER NOT NULL) WITHOUT ROWID;
  CREATE TABLE IF NOT EXISTS outbox_told (what TEXT PRIMARY KEY, up_to INTEGER NOT NULL) WITHOUT ROWID;
  INSERT INTO outbox_count VALUES ('delivered', 0), ('dropped', 0), ('rejected', 0) ON CONFLICT DO NOTHING;
`;

// No conflict clause inside a trigger: the one of the statement that fires it would win.
const TRIGGERS = TABLES.map(
  ({ table, slot, level, when }) => `
  CREATE TRIGGER IF NOT EXISTS ${table}_to_outbox AFTER INSERT ON ${table} ${when} BEGIN
    DELETE FROM outbox WHERE level = ${level} AND sensor_id = new.sensor_id AND slot = new.${slot};
    INSERT INTO outbox (level, sensor_id, slot) VALUES (${level}, new.sensor_id, new.${slot});
  END;
  CREATE TRIGGER IF NOT EXISTS ${table}_dropped AFTER DELETE ON ${table}
  WHEN EXISTS (SELECT 1 FROM outbox WHERE level = ${level} AND sensor_id = old.sensor_id AND slot = old.${slot}) BEGIN
    DELETE FROM outbox WHERE level = ${level} AND sensor_id = old.sensor_id AND slot = old.${slot};
    UPDATE outbox_count SET value = value + 1 WHERE name = 'dropped';
  END;`,
).join('');

/** Readings that are deleted before they were sent (the disk budget was reached) are counted as dropped. */
export function openOutbox(file: string): Outbox {
  const db = coded(file, () => new Database(file, { timeout: 5000, fileMustExist: true }));
  try {
    return coded(file, () => outboxOf(db, file));
  } catch (error) {
    db.close();
    throw error;
  }
}

function outboxOf(db: Database.Database, file: string): Outbox {
  db.pragma('synchronous = NORMAL');
  db.transaction(() => db.exec(SCHEMA + TRIGGERS)).immediate();
  const oldest = db.prepare<[number], OutboxRow>(
    'SELECT seq, level, sensor_id, slot FROM outbox ORDER BY seq LIMIT ?',
  );
  const sensors = db.prepare<[number], { node_id: string; sensor: number }>(
    'SELECT node_id, sensor FROM sensor WHERE id = ?',
  );
  const reading = db.prepare<[number, number], ReadingRow>(
    'SELECT second, flags, axes, packed FROM reading WHERE sensor_id = ? AND second = ?',
  );
  const rollups = (['minute', 'hour'] as const).map((table) => ({
    row: db.prepare<[number, number], RollupRow>(
      `SELECT slot, count, flagged, axes, packed FROM ${table} WHERE sensor_id = ? AND slot = ?`,
    ),
    hasEarlier: db
      .prepare<[number, number]>(`SELECT 1 FROM ${table} WHERE sensor_id = ? AND slot < ?`)
      .pluck(),
  }));
  const remove = db.prepare<[number]>('DELETE FROM outbox WHERE seq = ?');
  const add = db.prepare<[number, string]>('UPDATE outbox_count SET value = value + ? WHERE name = ?');
  const counts = db.prepare<[], [string, number]>('SELECT name, value FROM outbox_count').raw();
  const waiting = db.prepare<[], number>('SELECT count(*) FROM outbox').pluck();
  const oldestSecond = db
    .prepare<[], number | null>(
      'SELECT min((SELECT min(slot) FROM outbox WHERE level = 0 AND sensor_id = sensor.id)) FROM sensor',
    )
    .pluck();

  const told = db.prepare<[string], number>('SELECT up_to FROM outbox_told WHERE what = ?').pluck();
  const noteTold = db.prepare<[string, number]>('REPLACE INTO outbox_told VALUES (?, ?)');

  const names = new Map<number, { node_id: string; sensor: number }>();
  function sensorOf(id: number) {
    let found = names.get(id);
    if (found === undefined) {
      found = sensors.get(id)!;
      names.set(id, found);
    }
    return found;
  }

  const removeAll = db.transaction((entries: readonly { seq: number }[], as: DeliveryCount) => {
    let changes = 0;
    for (const { seq } of entries) changes += remove.run(seq).changes;
    add.run(changes, as);
  });

  function entryOf({ seq, level, sensor_id: id, slot }: OutboxRow): OutboxEntry | null {
    const { node_id: nodeId, sensor } = sensorOf(id);
    const base = { seq, nodeId, sensor };
    if (level === 0) {
      const row = reading.get(id, slot);
      return row ? { ...base, level: 'second', isFirst: false, row } : null;
    }
    const { row: get, hasEarlier } = rollups[level - 1]!;
    const row = get.get(id, slot);
    const isFirst = hasEarlier.get(id, slot) === undefined;
    return row ? { ...base, level: NUMBERS[level] as 'minute', isFirst, row } : null;
  }

  function next(limit: number): OutboxEntry[] {
    const entries: OutboxEntry[] = [];
    for (const row of oldest.all(limit)) {
      const entry = entryOf(row);
      // Its row was deleted while the triggers were off: there is nothing left to send.
      if (entry === null) removeAll.immediate([row], 'dropped');
      else entries.push(entry);
    }
    return entries.length === 0 && oldest.get(1) !== undefined ? next(limit) : entries;
  }

  return {
    next: (limit) => coded(file, () => next(limit)),
    remove: (entries, as) => coded(file, () => removeAll.immediate(entries, as)),
    waiting: () => coded(file, () => waiting.get()!),
    oldestSecond: () => coded(file, () => oldestSecond.get() ?? null),
    counts: () => coded(file, () => Object.fromEntries(counts.all()) as Record<DeliveryCount, number>),
    told: (what) => coded(file, () => told.get(what) ?? 0),
    noteTold: (what, upTo) => coded(file, () => void noteTold.run(what, upTo)),
    close: () => void db.close(),
  };
}

/** Takes the triggers away: a file that is sent nowhere any more must not gather entries for ever. */
export function stopOutbox(file: string): void {
  if (!existsSync(file)) return;
  coded(file, () => {
    const db = new Database(file, { timeout: 5000, fileMustExist: true });
    try {
      const names = db
        .prepare<[], string>("SELECT name FROM sqlite_schema WHERE type = 'trigger' AND sql LIKE '%outbox%'")
        .pluck()
        .all();
      for (const name of names) db.exec(`DROP TRIGGER IF EXISTS "${name}"`);
    } finally {
      db.close();
    }
  });
}
