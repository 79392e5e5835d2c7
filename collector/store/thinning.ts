import type Database from 'better-sqlite3';
import type { Horizon } from './horizon.ts';

/** Rows deleted in one go. */
const BATCH = 2000;
const HOUR_S = 3600;
const HOUR_MINUTES = 60;

interface SensorRow {
  id: number;
  open_minute: number;
}

/**
 * Keeps the file within a budget: gives a function that deletes one batch of the oldest rows when more than
 * `maxBytes` are in use, and tells whether more is to be deleted. Freed pages are used again, so the file stops
 * growing at the budget; it does not become smaller.
 */
export function prepareThinning(
  db: Database.Database,
  maxBytes: number | null,
  gone: { secondsGone: Horizon; minutesGone: Horizon },
): () => boolean {
  if (maxBytes === null) return () => false;
  const pageBytes = db.pragma('page_size', { simple: true }) as number;
  const usedBytes = () => {
    const pages = db.pragma('page_count', { simple: true }) as number;
    return (pages - (db.pragma('freelist_count', { simple: true }) as number)) * pageBytes;
  };
  const sensors = db.prepare<[], SensorRow>('SELECT id, open_minute FROM sensor');
  const levels = [
    { table: 'reading', column: 'second', perMinute: 60, perHour: HOUR_S },
    { table: 'spectrum', column: 'slot', perMinute: 1, perHour: HOUR_MINUTES },
    { table: 'minute', column: 'slot', perMinute: 1, perHour: HOUR_MINUTES },
  ].map((level) => ({
    ...level,
    oldest: db
      .prepare<[number], number | null>(`SELECT min(${level.column}) FROM ${level.table} WHERE sensor_id = ?`)
      .pluck(),
    nth: db
      .prepare<[number, number], number>(
        `SELECT ${level.column} FROM ${level.table} WHERE sensor_id = ? AND ${level.column} < ? ORDER BY ${level.column} LIMIT 1 OFFSET ${BATCH}`,
      )
      .pluck(),
    remove: db.prepare<[number, number]>(
      `DELETE FROM ${level.table} WHERE sensor_id = ? AND ${level.column} < ?`,
    ),
  }));

  /** The oldest hour that any sensor has at this level goes, for every sensor, but for each one's newest hour. */
  function thinLevel({ table, perMinute, perHour, oldest, nth, remove }: (typeof levels)[number]): number {
    const rows = sensors.all().flatMap(({ id, open_minute: open }) => {
      const first = oldest.get(id) ?? null;
      const newestHour = (Math.floor(open / HOUR_MINUTES) * HOUR_MINUTES - HOUR_MINUTES) * perMinute;
      return first === null || first >= newestHour ? [] : [{ id, first, newestHour }];
    });
    if (rows.length === 0) return 0;
    const oldestHour = Math.floor(Math.min(...rows.map((row) => row.first)) / perHour);
    const until = (oldestHour + 1) * perHour;
    if (table === 'reading') gone.secondsGone.raise(until);
    if (table === 'minute') gone.minutesGone.raise(until * 60);
    let deleted = 0;
    for (const { id, newestHour } of rows) {
      const limit = Math.min(until, newestHour);
      // Whole minutes of seconds: what is left of one could not be rolled up again.
      const to = nth.get(id, limit) ?? limit;
      deleted += remove.run(id, perMinute === 60 ? Math.min(limit, Math.ceil(to / 60) * 60) : to).changes;
      if (deleted >= BATCH) break;
    }
    return deleted;
  }

  return () => {
    if (usedBytes() <= maxBytes) return false;
    for (const level of levels) if (thinLevel(level) > 0) return true;
    return false;
  };
}
