import type { Database } from 'better-sqlite3';
import type { RepairCheckRequest, RepairResult, RepairRuns } from '../../contract/repair-checks.ts';
import { RecordError } from './record-error.ts';

const MOST_CHECKS_OF_AN_ASSET = 500;

export interface RepairCheckRecord extends RepairCheckRequest {
  id: number;
  assetId: number;
  statedMs: number;
  /** The repair among the events of the asset. */
  eventId: number | null;
  repairedMs: number | null;
  repairNote: string | null;
  sensorPutBack: boolean;
  runs: RepairRuns;
  concludedMs: number | null;
  concludedBy: string | null;
  /** As it was when it was concluded. */
  result: RepairResult | null;
}

/** Criteria stated for repairs. A criterion is never changed: another one is another check. */
export interface RepairChecks {
  /** Newest first. */
  list(assetId: number): RepairCheckRecord[];
  /** Throws `REPAIR_CHECK_NOT_FOUND`, as the changes below do. */
  check(checkId: number): RepairCheckRecord;
  add(assetId: number, request: RepairCheckRequest): RepairCheckRecord;
  repaired(checkId: number, eventId: number, sensorPutBack: boolean): RepairCheckRecord;
  chooseRuns(checkId: number, runs: RepairRuns): RepairCheckRecord;
  conclude(checkId: number, result: RepairResult, by: string): RepairCheckRecord;
}

type Row = Omit<RepairCheckRecord, keyof RepairCheckRequest | 'sensorPutBack' | 'runs' | 'result'> & {
  criterion: string;
  sensorPutBack: number;
  runs: string;
  result: string | null;
};

export function createRepairChecks(db: Database, now: () => number): RepairChecks {
  const columns = `c.id, c.asset_id AS assetId, criterion, stated_ms AS statedMs, event_id AS eventId, e.at_ms AS repairedMs, e.note AS repairNote,
    sensor_put_back AS sensorPutBack, runs, concluded_ms AS concludedMs, concluded_by AS concludedBy, result`;
  const from = 'repair_checks AS c LEFT JOIN asset_events AS e ON e.id = c.event_id';
  const sql = {
    list: db.prepare(`SELECT ${columns} FROM ${from} WHERE c.asset_id = ? ORDER BY c.id DESC`),
    find: db.prepare(`SELECT ${columns} FROM ${from} WHERE c.id = ?`),
    count: db.prepare('SELECT count(*) FROM repair_checks WHERE asset_id = ?').pluck(),
    add: db.prepare(
      'INSERT INTO repair_checks (asset_id, location_id, criterion, stated_ms) VALUES (?, ?, ?, ?)',
    ),
    repaired: db.prepare('UPDATE repair_checks SET event_id = ?, sensor_put_back = ? WHERE id = ?'),
    runs: db.prepare('UPDATE repair_checks SET runs = ? WHERE id = ?'),
    conclude: db.prepare(
      'UPDATE repair_checks SET concluded_ms = ?, concluded_by = ?, result = ? WHERE id = ? AND concluded_ms IS NULL',
    ),
  };
  const read = ({ criterion, sensorPutBack, runs, result, ...row }: Row): RepairCheckRecord => ({
    ...row,
    ...(JSON.parse(criterion) as RepairCheckRequest),
    sensorPutBack: sensorPutBack === 1,
    runs: JSON.parse(runs) as RepairRuns,
    result: result === null ? null : (JSON.parse(result) as RepairResult),
  });
  function find(checkId: number): RepairCheckRecord {
    const row = sql.find.get(checkId) as Row | undefined;
    if (row === undefined) throw new RecordError('REPAIR_CHECK_NOT_FOUND');
    return read(row);
  }
  return {
    list: (assetId) => (sql.list.all(assetId) as Row[]).map(read),
    check: find,
    add(assetId, request) {
      if ((sql.count.get(assetId) as number) >= MOST_CHECKS_OF_AN_ASSET)
        throw new RecordError('TOO_MANY_RECORDS');
      const { lastInsertRowid } = sql.add.run(assetId, request.locationId, JSON.stringify(request), now());
      return find(Number(lastInsertRowid));
    },
    repaired(checkId, eventId, sensorPutBack) {
      sql.repaired.run(eventId, sensorPutBack ? 1 : 0, checkId);
      return find(checkId);
    },
    chooseRuns(checkId, runs) {
      sql.runs.run(JSON.stringify(runs), checkId);
      return find(checkId);
    },
    conclude(checkId, result, by) {
      sql.conclude.run(now(), by, JSON.stringify(result), checkId);
      return find(checkId);
    },
  };
}
