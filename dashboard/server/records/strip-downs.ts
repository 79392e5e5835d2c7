import type { Database } from 'better-sqlite3';
import type { StripDown } from '../../contract/strip-downs.ts';
import { RecordError } from './record-error.ts';

const MOST_STRIP_DOWNS = 20_000;

type Kept = Pick<StripDown, 'location' | 'part' | 'damage' | 'condition' | 'openedBy' | 'said'>;
export type StripDownRecord = Omit<StripDown, 'assetName' | 'score' | 'sentence'>;

/** What was found when parts were opened. */
export interface StripDowns {
  /** Newest first; of one asset, or all. */
  list(assetId?: number): StripDownRecord[];
  add(entry: Omit<StripDownRecord, 'id' | 'enteredMs'>): StripDownRecord;
  /** Throws `STRIP_DOWN_NOT_FOUND`. */
  remove(id: number): void;
}

type Row = Omit<StripDownRecord, keyof Kept> & { record: string };

export function createStripDowns(db: Database, now: () => number): StripDowns {
  const columns = `id, asset_id AS assetId, location_id AS locationId, opened_ms AS openedMs, entered_ms AS enteredMs,
    entered_by AS enteredBy, record`;
  const sql = {
    list: db.prepare(`SELECT ${columns} FROM strip_downs ORDER BY opened_ms DESC, id DESC`),
    listOf: db.prepare(
      `SELECT ${columns} FROM strip_downs WHERE asset_id = ? ORDER BY opened_ms DESC, id DESC`,
    ),
    find: db.prepare(`SELECT ${columns} FROM strip_downs WHERE id = ?`),
    count: db.prepare('SELECT count(*) FROM strip_downs').pluck(),
    add: db.prepare(
      `INSERT INTO strip_downs (asset_id, location_id, opened_ms, entered_ms, entered_by, record)
       VALUES (?, ?, ?, ?, ?, ?)`,
    ),
    remove: db.prepare('DELETE FROM strip_downs WHERE id = ?'),
  };
  const read = ({ record, ...row }: Row): StripDownRecord => ({ ...row, ...(JSON.parse(record) as Kept) });
  return {
    list: (assetId) =>
      ((assetId === undefined ? sql.list.all() : sql.listOf.all(assetId)) as Row[]).map(read),
    add({ assetId, locationId, openedMs, enteredBy, ...entry }) {
      if ((sql.count.get() as number) >= MOST_STRIP_DOWNS) throw new RecordError('TOO_MANY_RECORDS');
      const { location, part, damage, condition, openedBy, said } = entry;
      const kept = { location, part: part.trim(), damage, condition: condition.trim(), openedBy, said };
      const { lastInsertRowid } = sql.add.run(
        assetId,
        locationId,
        openedMs,
        now(),
        enteredBy,
        JSON.stringify(kept satisfies Kept),
      );
      return read(sql.find.get(lastInsertRowid) as Row);
    },
    remove(id) {
      if (sql.remove.run(id).changes === 0) throw new RecordError('STRIP_DOWN_NOT_FOUND');
    },
  };
}
