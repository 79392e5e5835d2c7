import type Database from 'better-sqlite3';
import { lastingHorizon } from './horizon.ts';
import { prepareThinning } from './thinning.ts';

/** How long each level is kept, days; null for ever. */
export interface Retention {
  secondsDays: number | null;
  minutesDays: number | null;
  hoursDays: number | null;
  /**
   * Room for all of it, bytes; null for as much as the disk has. Beyond it the oldest seconds go, before their time;
   * when no seconds but the newest hour's are left, the oldest minutes. Hours always stay.
   */
  maxBytes: number | null;
}

export const DEFAULT_RETENTION: Retention = {
  secondsDays: 30,
  minutesDays: 730,
  hoursDays: null,
  maxBytes: null,
};

/** Rows deleted in one go: a few milliseconds, so that a commit never waits long. */
const BATCH = 2000;
const DAY_S = 86_400;

export interface Pruner {
  /** Deletes one batch of what is older than kept; true when more is left to delete. */
  prune(nowMs: number): boolean;
  /**
   * A late reading of a minute whose readings are gone, or of an hour whose minutes are: rolling it up again would
   * forget the others.
   */
  isPruned(sensorId: number, second: number): boolean;
}

export function prepareRetention(db: Database.Database, retention: Retention): Pruner {
  const sensors = db.prepare<[], { id: number; open_minute: number }>('SELECT id, open_minute FROM sensor');
  const minuteThere = db
    .prepare<[number, number]>('SELECT 1 FROM minute WHERE sensor_id = ? AND slot = ?')
    .pluck();
  const hourThere = db
    .prepare<[number, number]>('SELECT 1 FROM hour WHERE sensor_id = ? AND slot = ?')
    .pluck();
  const secondsGone = lastingHorizon(db, 'prunedBeforeSecond');
  const minutesGone = lastingHorizon(db, 'minutesPrunedBeforeSecond');
  const levels = [
    { table: 'reading', column: 'second', lengthS: 1, days: retention.secondsDays },
    { table: 'minute', column: 'slot', lengthS: 60, days: retention.minutesDays },
    { table: 'hour', column: 'slot', lengthS: 3600, days: retention.hoursDays },
  ].flatMap(({ table, column, lengthS, days }) => {
    if (days === null) return [];
    return [
      {
        lengthS,
        keptS: days * DAY_S,
        nth: db
          .prepare<[number, number]>(
            `SELECT ${column} FROM ${table} WHERE sensor_id = ? AND ${column} < ? ORDER BY ${column} LIMIT 1 OFFSET ${BATCH}`,
          )
          .pluck(),
        remove: db.prepare<[number, number]>(`DELETE FROM ${table} WHERE sensor_id = ? AND ${column} < ?`),
      },
    ];
  });
  const thin = prepareThinning(db, retention.maxBytes, { secondsGone, minutesGone });
  const prune = db.transaction((nowMs: number): boolean => {
    let budget = BATCH;
    for (const { lengthS, keptS, nth, remove } of levels) {
      const horizonS = Math.floor((nowMs / 1000 - keptS) / DAY_S) * DAY_S;
      if (lengthS === 1) secondsGone.raise(horizonS);
      if (lengthS === 60) minutesGone.raise(horizonS);
      for (const { id, open_minute } of sensors.all()) {
        // The newest minute stays: it is not rolled up yet, and a silent sensor keeps its last reading.
        const limit = Math.floor(Math.min(horizonS, open_minute * 60) / lengthS);
        const until = (nth.get(id, limit) as number | undefined) ?? limit;
        budget -= remove.run(id, until).changes;
        if (budget <= 0) return true;
      }
    }
    return thin();
  });

  return {
    prune: (nowMs) => prune.immediate(nowMs),
    isPruned(sensorId, second) {
      const is = (row: unknown) => row !== undefined;
      return (
        (second < secondsGone.second() && is(minuteThere.get(sensorId, Math.floor(second / 60)))) ||
        (second < minutesGone.second() && is(hourThere.get(sensorId, Math.floor(second / 3600))))
      );
    },
  };
}
