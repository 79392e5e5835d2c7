import type { Database } from 'better-sqlite3';
import type { AssetEvent, AssetEventRequest } from '../../contract/weeks.ts';
import { RecordError } from './record-error.ts';

const MOST_EVENTS = 1_000;

/** What happened to an asset: repairs, oil changes, and notes. */
export interface AssetEvents {
  /** Oldest first. */
  list(assetId: number): AssetEvent[];
  add(assetId: number, event: AssetEventRequest, by: string): AssetEvent;
  /** Throws `EVENT_NOT_FOUND`. */
  remove(assetId: number, eventId: number): void;
}

export function createAssetEvents(
  db: Database,
  now: () => number,
  changed: (assetId: number) => void,
): AssetEvents {
  const columns = 'id, asset_id AS assetId, at_ms AS atMs, kind, note, by_whom AS "by"';
  const list = db.prepare(`SELECT ${columns} FROM asset_events WHERE asset_id = ? ORDER BY at_ms, id`);
  const one = db.prepare(`SELECT ${columns} FROM asset_events WHERE id = ?`);
  const count = db.prepare('SELECT count(*) FROM asset_events WHERE asset_id = ?').pluck();
  const add = db.prepare(
    'INSERT INTO asset_events (asset_id, at_ms, kind, note, by_whom) VALUES (?, ?, ?, ?, ?)',
  );
  const remove = db.prepare('DELETE FROM asset_events WHERE id = ? AND asset_id = ?');
  return {
    list: (assetId) => list.all(assetId) as AssetEvent[],
    add(assetId, { atMs = now(), kind, note }, by) {
      if ((count.get(assetId) as number) >= MOST_EVENTS) throw new RecordError('TOO_MANY_RECORDS');
      const { lastInsertRowid } = add.run(assetId, atMs, kind, note.trim(), by);
      changed(assetId);
      return one.get(lastInsertRowid) as AssetEvent;
    },
    remove(assetId, eventId) {
      if (remove.run(eventId, assetId).changes === 0) throw new RecordError('EVENT_NOT_FOUND');
      changed(assetId);
    },
  };
}
