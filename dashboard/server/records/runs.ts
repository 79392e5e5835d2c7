import type { Database } from 'better-sqlite3';
import type { Check, Complaint, Outcome, RunChange, RunKind, RunRequest } from '../../contract/runs.ts';
import { RecordError } from './record-error.ts';

const MOST_RUNS = 20_000;

export interface RunRecord {
  id: number;
  assetId: number;
  kind: RunKind;
  startMs: number;
  endMs: number | null;
  operator: string;
  odometerKm: number | null;
  notes: string;
  complaint: Complaint;
  checks: Check[];
  /** As noted: "P0741". */
  troubleCodes: string[];
  outcome: Outcome | null;
  kept: boolean;
  source: 'station' | 'import';
  markCount: number;
}

export interface Runs {
  /** Newest first; of one asset, or all. */
  list(assetId?: number): RunRecord[];
  /** Throws `RUN_NOT_FOUND`, as the changes below do. */
  run(runId: number): RunRecord;
  underWay(assetId: number): RunRecord | null;
  /** Throws `ASSET_NOT_FOUND`, `RUN_UNDER_WAY` (of this asset). */
  start(request: RunRequest, operator: string): RunRecord;
  /** A run of the past whose samples come to this station late; none of them are kept on purpose. */
  addPast(request: RunRequest, operator: string, startMs: number, endMs: number): RunRecord;
  /** A run that was recorded elsewhere. */
  addImported(request: RunRequest, operator: string, startMs: number, endMs: number): RunRecord;
  change(runId: number, change: Partial<RunChange>): RunRecord;
  /** Ends it now, or at `endMs`. One that has ended stays as it is. */
  end(runId: number, endMs?: number): RunRecord;
  remove(runId: number): void;
}

const EMPTY: Complaint = {
  description: '',
  when: '',
  speed: '',
  load: '',
  gear: '',
  hotOrCold: '',
  recentWork: '',
};

type Row = Omit<RunRecord, 'complaint' | 'checks' | 'troubleCodes' | 'kept'> & {
  complaint: string;
  checks: string;
  troubleCodes: string;
  kept: number;
};

export function createRuns(
  db: Database,
  now: () => number,
  changed: (run: { id: number; assetId: number }) => void,
): Runs {
  const columns = `id, asset_id AS assetId, kind, start_ms AS startMs, end_ms AS endMs, operator,
    odometer_km AS odometerKm, notes, complaint, checks, trouble_codes AS troubleCodes, outcome, kept, source,
    (SELECT count(*) FROM noise_marks WHERE run_id = runs.id) AS markCount`;
  const sql = {
    list: db.prepare(`SELECT ${columns} FROM runs ORDER BY start_ms DESC, id DESC`),
    listOf: db.prepare(`SELECT ${columns} FROM runs WHERE asset_id = ? ORDER BY start_ms DESC, id DESC`),
    find: db.prepare(`SELECT ${columns} FROM runs WHERE id = ?`),
    underWay: db.prepare(`SELECT ${columns} FROM runs WHERE asset_id = ? AND end_ms IS NULL`),
    count: db.prepare('SELECT count(*) FROM runs').pluck(),
    asset: db.prepare('SELECT 1 FROM assets WHERE id = ?').pluck(),
    add: db.prepare(
      `INSERT INTO runs (asset_id, kind, start_ms, end_ms, operator, odometer_km, notes, complaint, checks, kept, source)
       VALUES (@assetId, @kind, @startMs, @endMs, @operator, @odometerKm, @notes, @complaint, '[]', @kept, @source)`,
    ),
    change: db.prepare(
      `UPDATE runs SET odometer_km = @odometerKm, notes = @notes, complaint = @complaint, checks = @checks,
       trouble_codes = @troubleCodes, outcome = @outcome, kept = @kept WHERE id = @id`,
    ),
    end: db.prepare('UPDATE runs SET end_ms = max(start_ms, ?) WHERE id = ? AND end_ms IS NULL'),
    remove: db.prepare('DELETE FROM runs WHERE id = ?'),
  };

  const read = (row: Row): RunRecord => ({
    ...row,
    complaint: { ...EMPTY, ...(JSON.parse(row.complaint) as Partial<Complaint>) },
    checks: JSON.parse(row.checks) as Check[],
    troubleCodes: JSON.parse(row.troubleCodes) as string[],
    kept: row.kept === 1,
  });

  function find(runId: number): RunRecord {
    const row = sql.find.get(runId) as Row | undefined;
    if (row === undefined) throw new RecordError('RUN_NOT_FOUND');
    return read(row);
  }

  const add = db.transaction(
    (
      request: RunRequest,
      operator: string,
      span: { startMs: number; endMs: number | null },
      source: string,
      kept = true,
    ) => {
      const { assetId, kind, odometerKm = null, notes = '', complaint = {} } = request;
      if (sql.asset.get(assetId) === undefined) throw new RecordError('ASSET_NOT_FOUND');
      if ((sql.count.get() as number) >= MOST_RUNS) throw new RecordError('TOO_MANY_RECORDS');
      if (span.endMs === null && sql.underWay.get(assetId) !== undefined)
        throw new RecordError('RUN_UNDER_WAY');
      const { lastInsertRowid } = sql.add.run({
        assetId,
        kind,
        ...span,
        operator,
        odometerKm,
        notes: notes.trim(),
        complaint: JSON.stringify(complaint),
        source,
        kept: kept ? 1 : 0,
      });
      return find(Number(lastInsertRowid));
    },
  );

  function told(run: RunRecord): RunRecord {
    changed(run);
    return run;
  }

  return {
    list: (assetId) =>
      ((assetId === undefined ? sql.list.all() : sql.listOf.all(assetId)) as Row[]).map(read),
    run: find,
    underWay(assetId) {
      const row = sql.underWay.get(assetId) as Row | undefined;
      return row === undefined ? null : read(row);
    },
    start: (request, operator) =>
      told(add.immediate(request, operator, { startMs: now(), endMs: null }, 'station')),
    addPast: (request, operator, startMs, endMs) =>
      told(add.immediate(request, operator, { startMs, endMs }, 'station', false)),
    addImported: (request, operator, startMs, endMs) =>
      told(add.immediate(request, operator, { startMs, endMs }, 'import')),
    change(runId, change) {
      const before = find(runId);
      const after = { ...before, ...change, complaint: { ...before.complaint, ...change.complaint } };
      if (change.checks !== undefined) after.checks = mergeChecks(before.checks, change.checks);
      sql.change.run({
        id: runId,
        odometerKm: after.odometerKm,
        notes: after.notes,
        complaint: JSON.stringify(after.complaint),
        checks: JSON.stringify(after.checks),
        troubleCodes: JSON.stringify(after.troubleCodes),
        outcome: after.outcome,
        kept: after.kept ? 1 : 0,
      });
      return told(find(runId));
    },
    end(runId, endMs = now()) {
      find(runId);
      return sql.end.run(endMs, runId).changes === 0 ? find(runId) : told(find(runId));
    },
    remove(runId) {
      const run = find(runId);
      sql.remove.run(runId);
      changed(run);
    },
  };
}

function mergeChecks(before: readonly Check[], changes: readonly Check[]): Check[] {
  const merged = new Map(before.map((check) => [check.id, check]));
  for (const check of changes) merged.set(check.id, check);
  return [...merged.values()];
}
