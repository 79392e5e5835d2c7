import type { Database } from 'better-sqlite3';
import type { Decision } from '../../contract/decisions.ts';
import { RecordError } from './record-error.ts';

const MOST_DECISIONS_OF_AN_ASSET = 500;

type Kept = Pick<Decision, 'location' | 'note' | 'figures' | 'answer' | 'support'>;
type NewDecision = Omit<Decision, 'id' | 'enteredMs' | 'refusal'> & {
  refusal: { name: string; textShown: string } | null;
};

/** What was decided, by whom, on which figures. Neither changed nor removed, but with its asset. */
export interface Decisions {
  /** Newest first. */
  list(assetId: number): Decision[];
  add(decision: NewDecision): Decision;
}

type Row = Omit<Decision, keyof Kept | 'refusal'> & {
  record: string;
  refusedBy: string | null;
  refusedText: string | null;
};

export function createDecisions(db: Database, now: () => number): Decisions {
  const columns = `id, asset_id AS assetId, location_id AS locationId, decided_ms AS decidedMs, decided_by AS decidedBy,
    entered_ms AS enteredMs, entered_by AS enteredBy, chosen, record, refused_by AS refusedBy, refused_text AS refusedText`;
  const sql = {
    list: db.prepare(`SELECT ${columns} FROM decisions WHERE asset_id = ? ORDER BY id DESC`),
    find: db.prepare(`SELECT ${columns} FROM decisions WHERE id = ?`),
    count: db.prepare('SELECT count(*) FROM decisions WHERE asset_id = ?').pluck(),
    add: db.prepare(
      `INSERT INTO decisions (asset_id, location_id, decided_ms, decided_by, entered_ms, entered_by, chosen, record,
         refused_by, refused_text) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
    ),
  };
  const read = ({ record, refusedBy, refusedText, ...row }: Row): Decision => ({
    ...row,
    ...(JSON.parse(record) as Kept),
    refusal:
      refusedBy === null || refusedText === null
        ? null
        : { name: refusedBy, textShown: refusedText, atMs: row.enteredMs },
  });
  return {
    list: (assetId) => (sql.list.all(assetId) as Row[]).map(read),
    add(decision) {
      const { assetId, locationId, decidedMs, decidedBy, enteredBy, chosen, refusal } = decision;
      if ((sql.count.get(assetId) as number) >= MOST_DECISIONS_OF_AN_ASSET)
        throw new RecordError('TOO_MANY_RECORDS');
      const { location, note, figures, answer, support } = decision;
      const record = JSON.stringify({ location, note: note.trim(), figures, answer, support } satisfies Kept);
      const { lastInsertRowid } = sql.add.run(
        assetId,
        locationId,
        decidedMs,
        decidedBy.trim(),
        now(),
        enteredBy,
        chosen,
        record,
        refusal?.name.trim() ?? null,
        refusal?.textShown ?? null,
      );
      return read(sql.find.get(lastInsertRowid) as Row);
    },
  };
}
