import type { Database } from 'better-sqlite3';
import type { FindingRecord } from '../../contract/drive-train.ts';

/** Two weeks of a look every ten minutes; older ones of a location go. */
const MOST_OF_A_LOCATION = 2_000;
/** A picture is some 100 kB. */
const MOST_PICTURES_OF_A_LOCATION = 12;

type NewFinding = Omit<FindingRecord, 'id' | 'picture'>;

/** What looks at locations found, newest last. */
export interface Findings {
  add(finding: NewFinding, picture: string): FindingRecord;
  list(locationId: number, limit?: number): FindingRecord[];
  /** The newest look that had been made by `atMs`; null when there is none, or none any more. */
  before(locationId: number, atMs: number): FindingRecord | null;
  /** Looks after this one, of all locations, in the order they were made. */
  after(id: number, limit: number): FindingRecord[];
  /** What the newest look at each location said, by location id. */
  standing(): Map<number, StandingVerdict>;
  standingAt(locationId: number): StandingVerdict | null;
  /** Null when there is none, or none any more. */
  picture(id: number): string | null;
}

export interface StandingVerdict {
  verdict: FindingRecord['verdict'];
  /** Since when every look has said so. */
  sinceMs: number;
  bearing: string | null;
  nodeId: string;
  sensor: number;
}

interface Row {
  id: number;
  sinceMs: number;
  record: string;
  hasPicture: number;
}

export function createFindings(db: Database, changed: () => void): Findings {
  const columns = 'id, since_ms AS sinceMs, record, picture IS NOT NULL AS hasPicture';
  const sql = {
    add: db.prepare(
      'INSERT INTO findings (location_id, at_ms, verdict, since_ms, record, picture) VALUES (?, ?, ?, ?, ?, ?)',
    ),
    one: db.prepare(`SELECT ${columns} FROM findings WHERE id = ?`),
    list: db.prepare(`SELECT ${columns} FROM findings WHERE location_id = ? ORDER BY id DESC LIMIT ?`),
    before: db.prepare(
      `SELECT ${columns} FROM findings WHERE location_id = ? AND at_ms <= ? ORDER BY at_ms DESC, id DESC LIMIT 1`,
    ),
    newest: db.prepare(
      `SELECT ${columns} FROM findings WHERE id IN (SELECT max(id) FROM findings GROUP BY location_id)`,
    ),
    after: db.prepare(`SELECT ${columns} FROM findings WHERE id > ? ORDER BY id LIMIT ?`),
    picture: db.prepare('SELECT picture FROM findings WHERE id = ?').pluck(),
    dropPictures: db.prepare(
      `UPDATE findings SET picture = NULL WHERE location_id = @locationId AND picture IS NOT NULL AND id <=
       (SELECT id FROM findings WHERE location_id = @locationId ORDER BY id DESC LIMIT 1 OFFSET @keep)`,
    ),
    drop: db.prepare(
      `DELETE FROM findings WHERE location_id = @locationId AND id <=
       (SELECT id FROM findings WHERE location_id = @locationId ORDER BY id DESC LIMIT 1 OFFSET @keep)`,
    ),
  };
  const read = ({ id, record, hasPicture }: Row): FindingRecord => ({
    ...(JSON.parse(record) as NewFinding),
    id,
    picture: hasPicture === 1,
  });
  const newestAt = (locationId: number) => sql.list.get(locationId, 1) as Row | undefined;
  const standing = ({ record, sinceMs }: Row): StandingVerdict => {
    const { verdict, bearing, nodeId, sensor } = JSON.parse(record) as NewFinding;
    return { verdict, sinceMs, bearing, nodeId, sensor };
  };
  const add = db.transaction((finding: NewFinding, picture: string): { id: number; isNews: boolean } => {
    const { locationId, atMs, verdict } = finding;
    const row = newestAt(locationId);
    const before = row === undefined ? null : standing(row);
    const same = before !== null && before.verdict === verdict && isSameMount(before, finding);
    const sinceMs = same ? before.sinceMs : atMs;
    const text = JSON.stringify(finding);
    const { lastInsertRowid } = sql.add.run(locationId, atMs, verdict, sinceMs, text, picture);
    sql.dropPictures.run({ locationId, keep: MOST_PICTURES_OF_A_LOCATION });
    sql.drop.run({ locationId, keep: MOST_OF_A_LOCATION });
    return { id: Number(lastInsertRowid), isNews: !same };
  });
  return {
    add(finding, picture) {
      const { id, isNews } = add(finding, picture);
      // Lists show the verdict alone: the same one again is no news to them.
      if (isNews) changed();
      return read(sql.one.get(id) as Row);
    },
    list: (locationId, limit = 50) => (sql.list.all(locationId, limit) as Row[]).map(read),
    after: (id, limit) => (sql.after.all(id, limit) as Row[]).map(read),
    before(locationId, atMs) {
      const row = sql.before.get(locationId, atMs) as Row | undefined;
      return row === undefined ? null : read(row);
    },
    standing() {
      const rows = sql.newest.all() as Row[];
      return new Map(rows.map((row) => [read(row).locationId, standing(row)]));
    },
    standingAt(locationId) {
      const row = newestAt(locationId);
      return row === undefined ? null : standing(row);
    },
    picture: (id) => (sql.picture.get(id) as string | null | undefined) ?? null,
  };
}

function isSameMount(a: { nodeId: string; sensor: number }, b: { nodeId: string; sensor: number }): boolean {
  return a.nodeId === b.nodeId && a.sensor === b.sensor;
}
