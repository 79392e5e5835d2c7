import type Database from 'better-sqlite3';
import { lastingHorizon } from './horizon.ts';
import { prepareThinning } from './thinning.ts';

/** How long each level is kept, days; null for ever. */
export interface Retention {
  secondsDays: number | null;
  /** Also of the minutes' mean spectra. */
  minutesDays: number | null;
  hoursDays: number | null;
  /**
   * Room for all of it, bytes; null for as much as the disk has. Beyond it the oldest seconds go, before their time;
   * when no seconds but the newest hour's are left, the oldest spectra, then the oldest minutes. Hours always stay.
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
/** Seconds that come when they are older than kept stay so long, for whoever makes run summaries of them. */
const LATE_STAY_MS = 600_000;

export interface Pruner {
  /** Deletes one batch of what is older than kept; true when more is left to delete. */
  prune(nowMs: number): boolean;
  /**
   * A late reading of a minute whose readings are gone, or of an hour whose minutes are: rolling it up again would
   * forget the others.
   */
  isPruned(sensorId: number, second: number): boolean;
  /** A reading was stored: one that is older than kept is not deleted at once. */
  stored(sensorId: number, second: number): void;
}

export function prepareRetention(db: Database.Database, retention: Retention): Pruner {
  const sensors = db.prepare<[], { id: number; open_minute: number }>('SELECT id, open_minute FROM sensor');
  const minuteThere = db
    .prepare<[number, number]>('SELECT 1 FROM minute WHERE sensor_id = ? AND slot = ?')
    .pluck();
  const readingThere = db
    .prepare<[number, number, number]>(
      'SELECT 1 FROM reading WHERE sensor_id = ? AND second >= ? AND second < ? LIMIT 1',
    )
    .pluck();
  const hourThere = db
    .prepare<[number, number]>('SELECT 1 FROM hour WHERE sensor_id = ? AND slot = ?')
    .pluck();
  const secondsGone = lastingHorizon(db, 'prunedBeforeSecond');
  const minutesGone = lastingHorizon(db, 'minutesPrunedBeforeSecond');
  const levels = [
    { table: 'reading', column: 'second', lengthS: 1, days: retention.secondsDays },
    { table: 'minute', column: 'slot', lengthS: 60, days: retention.minutesDays },
    { table: 'spectrum', column: 'slot', lengthS: 60, days: retention.minutesDays },
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
  const late = new Map<number, { oldestSecond: number; untilMs: number }>();
  /** Of the last pruning: the clock by which readings are late. */
  let clockMs = Number.NEGATIVE_INFINITY;
  /** Up to which second rows of a sensor may go now. */
  const mayGo = (sensorId: number, nowMs: number): number => {
    const staying = late.get(sensorId);
    if (staying === undefined) return Number.POSITIVE_INFINITY;
    if (staying.untilMs > nowMs) return staying.oldestSecond;
    late.delete(sensorId);
    return Number.POSITIVE_INFINITY;
  };
  const thin = prepareThinning(db, retention.maxBytes, { secondsGone, minutesGone });
  const prune = db.transaction((nowMs: number): boolean => {
    let budget = BATCH;
    clockMs = nowMs;
    for (const { lengthS, keptS, nth, remove } of levels) {
      const horizonS = Math.floor((nowMs / 1000 - keptS) / DAY_S) * DAY_S;
      if (lengthS === 1) secondsGone.raise(horizonS);
      if (lengthS === 60) minutesGone.raise(horizonS);
      for (const { id, open_minute } of sensors.all()) {
        // The newest minute stays: it is not rolled up yet, and a silent sensor keeps its last reading.
        const limit = Math.floor(Math.min(horizonS, open_minute * 60, mayGo(id, nowMs)) / lengthS);
        // Whole minutes (and hours) of rows: what is left of one could not be rolled up again.
        const until = wholeSlots((nth.get(id, limit) as number | undefined) ?? limit, lengthS);
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
      const minute = Math.floor(second / 60);
      return (
        (second < secondsGone.second() &&
          is(minuteThere.get(sensorId, minute)) &&
          !is(readingThere.get(sensorId, 60 * minute, 60 * minute + 60))) ||
        (second < minutesGone.second() && is(hourThere.get(sensorId, Math.floor(second / 3600))))
      );
    },
    stored(sensorId, second) {
      const { secondsDays } = retention;
      if (secondsDays === null || second * 1000 >= clockMs - secondsDays * DAY_S * 1000) return;
      const minuteBegin = Math.floor(second / 60) * 60;
      const oldestSecond = Math.min(late.get(sensorId)?.oldestSecond ?? minuteBegin, minuteBegin);
      late.set(sensorId, { oldestSecond, untilMs: clockMs + LATE_STAY_MS });
    },
  };
}

function wholeSlots(until: number, lengthS: number): number {
  const perRollup = lengthS === 1 || lengthS === 60 ? 60 : 1;
  return Math.ceil(until / perRollup) * perRollup;
}
