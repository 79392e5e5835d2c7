import type { Database } from 'better-sqlite3';
import type { trend } from '../../../collector/index.ts';
import type { TrendValue } from '../../contract/model.ts';

/** What is kept of the summary of one value over one period. */
export type KeptSummary = Pick<
  trend.RunSummary,
  'used' | 'leftOutShare' | 'median' | 'mad' | 'medianSd' | 'refused'
>;

export interface PeriodLevel {
  locationId: number;
  runId: number | null;
  fromMs: number;
  toMs: number;
  bin: string;
  readings: number;
  summaries: Record<TrendValue, KeptSummary>;
}

/** What runs, and days of machines, came to: kept, because seconds are not kept as long as trends last. */
export interface PeriodLevels {
  /** Takes the place of what was kept of the same period at the same location. */
  put(locationId: number, runId: number | null, fromMs: number, levels: readonly PeriodLevel[]): void;
  /** Oldest first, with the reason why a person left its run out, or null. */
  ofLocation(locationId: number): (PeriodLevel & { leftOut: string | null })[];
  /** Readings that went into what is kept of a run at a location. */
  readingsOf(locationId: number, runId: number): number;
  /** Readings that went into each day of a machine's location, by begin of the day. */
  daysOf(locationId: number): Map<number, number>;
  /** Runs that have ended and are to be worked out (again) by now, oldest first. */
  dueRuns(nowMs: number, limit: number): { runId: number; times: number }[];
  noteEvaluated(runId: number, times: number, againMs: number | null): void;
  leaveOut(runId: number, reason: string | null, by: string): void;
  /** Reason why a run is left out; null when it counts. */
  leftOut(runId: number): string | null;
}

type Row = Omit<PeriodLevel, 'summaries'> & { summaries: string; leftOut: string | null };

export function createPeriodLevels(db: Database, changed: (locationId: number) => void): PeriodLevels {
  const sql = {
    remove: db.prepare('DELETE FROM period_levels WHERE location_id = ? AND run_id IS ? AND from_ms = ?'),
    removeRun: db.prepare('DELETE FROM period_levels WHERE location_id = ? AND run_id = ?'),
    add: db.prepare(
      `INSERT INTO period_levels (location_id, run_id, from_ms, to_ms, bin, readings, summaries)
       VALUES (@locationId, @runId, @fromMs, @toMs, @bin, @readings, @summaries)`,
    ),
    of: db.prepare(
      `SELECT l.location_id AS locationId, l.run_id AS runId, from_ms AS fromMs, to_ms AS toMs, bin, readings,
         summaries, o.reason AS leftOut
       FROM period_levels AS l LEFT JOIN runs_left_out AS o ON o.run_id = l.run_id
       WHERE l.location_id = ? ORDER BY from_ms, l.id`,
    ),
    readings: db
      .prepare('SELECT ifnull(sum(readings), 0) FROM period_levels WHERE location_id = ? AND run_id = ?')
      .pluck(),
    days: db.prepare(
      'SELECT from_ms, sum(readings) FROM period_levels WHERE location_id = ? AND run_id IS NULL GROUP BY from_ms',
    ),
    due: db.prepare(
      `SELECT r.id AS runId, ifnull(e.times, 0) AS times FROM runs AS r LEFT JOIN run_evaluations AS e ON e.run_id = r.id
       WHERE r.end_ms IS NOT NULL AND r.source = 'station' AND (e.run_id IS NULL OR e.again_ms <= ?)
       ORDER BY r.start_ms LIMIT ?`,
    ),
    evaluated: db.prepare('REPLACE INTO run_evaluations VALUES (?, ?, ?)'),
    leaveOut: db.prepare('REPLACE INTO runs_left_out VALUES (?, ?, ?)'),
    takeIn: db.prepare('DELETE FROM runs_left_out WHERE run_id = ?'),
    leftOut: db.prepare('SELECT reason FROM runs_left_out WHERE run_id = ?').pluck(),
    places: db.prepare('SELECT DISTINCT location_id FROM period_levels WHERE run_id = ?').pluck(),
  };
  const put = db.transaction(
    (locationId: number, runId: number | null, fromMs: number, levels: readonly PeriodLevel[]) => {
      if (runId === null) sql.remove.run(locationId, null, fromMs);
      else sql.removeRun.run(locationId, runId);
      for (const level of levels) sql.add.run({ ...level, summaries: JSON.stringify(level.summaries) });
    },
  );
  return {
    put(locationId, runId, fromMs, levels) {
      put.immediate(locationId, runId, fromMs, levels);
      changed(locationId);
    },
    ofLocation: (locationId) =>
      (sql.of.all(locationId) as Row[]).map((row) => ({
        ...row,
        summaries: JSON.parse(row.summaries) as PeriodLevel['summaries'],
      })),
    readingsOf: (locationId, runId) => sql.readings.get(locationId, runId) as number,
    daysOf: (locationId) => new Map(sql.days.raw().all(locationId) as [number, number][]),
    dueRuns: (nowMs, limit) => sql.due.all(nowMs, limit) as { runId: number; times: number }[],
    noteEvaluated: (runId, times, againMs) => void sql.evaluated.run(runId, times, againMs),
    leaveOut(runId, reason, by) {
      if (reason === null) sql.takeIn.run(runId);
      else sql.leaveOut.run(runId, reason.trim(), by);
      for (const locationId of sql.places.all(runId) as number[]) changed(locationId);
    },
    leftOut: (runId) => (sql.leftOut.get(runId) as string | undefined) ?? null,
  };
}
