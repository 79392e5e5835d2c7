import Database from 'better-sqlite3';

interface MountLookup {
  /** Asset and location, by their numbers, of a sensor at a moment; null when it was clamped nowhere known. */
  find(nodeId: string, sensor: number, atMs: number): { asset: string; location: string } | null;
  close(): void;
}

/**
 * Read-only view of the records file that tags readings on their way to a database. Numbers, not names: a name may
 * be corrected later, and a plate or an owner's name is nobody's business elsewhere. A file that is not there yet
 * knows no mounts.
 */
export function openMountLookup(file: string): MountLookup {
  let db: Database.Database | undefined;
  let find: Database.Statement<[string, number, number, number]> | undefined;

  function ready(): typeof find {
    if (find !== undefined) return find;
    try {
      db = new Database(file, { readonly: true, fileMustExist: true, timeout: 2_000 });
      find = db.prepare(
        `SELECT CAST(asset_id AS TEXT) AS asset, CAST(locations.id AS TEXT) AS location FROM mounts
         JOIN locations ON locations.id = location_id
         WHERE node_id = ? AND sensor = ? AND from_ms <= ? AND (to_ms IS NULL OR to_ms > ?)`,
      );
      return find;
    } catch (error) {
      db?.close();
      db = undefined;
      const { code, message } = error as { code?: string; message: string };
      if (code === 'SQLITE_CANTOPEN' || message.startsWith('no such table')) return undefined;
      throw error;
    }
  }

  return {
    find(nodeId, sensor, atMs) {
      const row = ready()?.get(nodeId, sensor, atMs, atMs);
      return (row as { asset: string; location: string } | undefined) ?? null;
    },
    close: () => void db?.close(),
  };
}
