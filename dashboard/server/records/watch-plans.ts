import type { Database } from 'better-sqlite3';
import type { RunKind } from '../../contract/runs.ts';
import type { WatchPlanRequest } from '../../contract/watch-plans.ts';
import { RecordError } from './record-error.ts';

const MOST_PLANS_OF_AN_ASSET = 500;

export interface WatchPlanRecord extends WatchPlanRequest {
  id: number;
  assetId: number;
  startedMs: number;
  startedBy: string;
  endedMs: number | null;
  endedBy: string | null;
  endReason: string | null;
}

/** What people agreed on while a repair waits. A plan is never edited: another one takes its place. */
export interface WatchPlans {
  /** Newest first. */
  list(assetId: number): WatchPlanRecord[];
  /** Of all assets. */
  open(): WatchPlanRecord[];
  openOf(assetId: number): WatchPlanRecord[];
  /** Throws `WATCH_PLAN_NOT_FOUND`, as ending does. */
  plan(planId: number): WatchPlanRecord;
  /** Ends an open plan for the same place. */
  begin(assetId: number, plan: WatchPlanRequest, by: string): WatchPlanRecord;
  /** One that has ended stays as it is. */
  end(planId: number, reason: string, by: string): WatchPlanRecord;
  /** End of the newest period that counts towards it, of vehicles; null when there is none. */
  lastRunMs(locationIds: readonly number[], kind: RunKind, bins: readonly string[]): number | null;
  /** Middles of each day of a machine's location, oldest first. */
  dayLevels(locationId: number): { timeMs: number; toMs: number; value: number }[];
}

type Row = Omit<WatchPlanRecord, keyof WatchPlanRequest> & { plan: string };

export function createWatchPlans(
  db: Database,
  now: () => number,
  changed: (assetId: number) => void,
): WatchPlans {
  const columns = `id, asset_id AS assetId, plan, started_ms AS startedMs, started_by AS startedBy,
    ended_ms AS endedMs, ended_by AS endedBy, end_reason AS endReason`;
  const median = "json_extract(l.summaries, '$.velocityRmsMmPerS.median')";
  const refused = "json_extract(l.summaries, '$.velocityRmsMmPerS.refused')";
  const sql = {
    list: db.prepare(`SELECT ${columns} FROM watch_plans WHERE asset_id = ? ORDER BY id DESC`),
    open: db.prepare(`SELECT ${columns} FROM watch_plans WHERE ended_ms IS NULL ORDER BY id`),
    openOf: db.prepare(`SELECT ${columns} FROM watch_plans WHERE ended_ms IS NULL AND asset_id = ?`),
    find: db.prepare(`SELECT ${columns} FROM watch_plans WHERE id = ?`),
    count: db.prepare('SELECT count(*) FROM watch_plans WHERE asset_id = ?').pluck(),
    openAt: db
      .prepare('SELECT id FROM watch_plans WHERE asset_id = ? AND location_id IS ? AND ended_ms IS NULL')
      .pluck(),
    add: db.prepare(
      'INSERT INTO watch_plans (asset_id, location_id, plan, started_ms, started_by) VALUES (?, ?, ?, ?, ?)',
    ),
    end: db.prepare(
      'UPDATE watch_plans SET ended_ms = ?, ended_by = ?, end_reason = ? WHERE id = ? AND ended_ms IS NULL',
    ),
    lastRun: db
      .prepare(
        `SELECT max(ifnull(r.end_ms, l.to_ms)) FROM period_levels AS l JOIN runs AS r ON r.id = l.run_id
         WHERE l.location_id IN (SELECT value FROM json_each(@places)) AND r.kind = @kind
           AND r.outcome IS NOT 'aborted' AND ${refused} IS NULL AND ${median} > 0
           AND (@bins = '[]' OR l.bin IN (SELECT value FROM json_each(@bins)))
           AND l.run_id NOT IN (SELECT run_id FROM runs_left_out)`,
      )
      .pluck(),
    days: db.prepare(
      `SELECT (l.from_ms + l.to_ms) / 2 AS timeMs, l.to_ms AS toMs, ${median} AS value FROM period_levels AS l
       WHERE l.location_id = ? AND l.run_id IS NULL AND ${refused} IS NULL AND ${median} > 0 ORDER BY l.from_ms`,
    ),
  };
  const read = ({ plan, ...row }: Row): WatchPlanRecord => ({
    ...row,
    ...(JSON.parse(plan) as WatchPlanRequest),
  });
  function find(planId: number): WatchPlanRecord {
    const row = sql.find.get(planId) as Row | undefined;
    if (row === undefined) throw new RecordError('WATCH_PLAN_NOT_FOUND');
    return read(row);
  }
  const begin = db.transaction((assetId: number, plan: WatchPlanRequest, by: string): number => {
    if ((sql.count.get(assetId) as number) >= MOST_PLANS_OF_AN_ASSET)
      throw new RecordError('TOO_MANY_RECORDS');
    const before = sql.openAt.get(assetId, plan.locationId) as number | undefined;
    if (before !== undefined) sql.end.run(now(), by, 'replaced by a newer plan', before);
    const { lastInsertRowid } = sql.add.run(assetId, plan.locationId, JSON.stringify(plan), now(), by);
    return Number(lastInsertRowid);
  });
  return {
    list: (assetId) => (sql.list.all(assetId) as Row[]).map(read),
    open: () => (sql.open.all() as Row[]).map(read),
    openOf: (assetId) => (sql.openOf.all(assetId) as Row[]).map(read),
    plan: find,
    begin(assetId, plan, by) {
      const id = begin.immediate(assetId, plan, by);
      changed(assetId);
      return find(id);
    },
    end(planId, reason, by) {
      const { assetId } = find(planId);
      if (sql.end.run(now(), by, reason.trim(), planId).changes > 0) changed(assetId);
      return find(planId);
    },
    lastRunMs: (locationIds, kind, bins) =>
      sql.lastRun.get({
        places: JSON.stringify(locationIds),
        kind,
        bins: JSON.stringify(bins),
      }) as number | null,
    dayLevels: (locationId) => sql.days.all(locationId) as { timeMs: number; toMs: number; value: number }[],
  };
}
