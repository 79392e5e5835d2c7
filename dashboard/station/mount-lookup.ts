import { openRecordsView } from './records-view.ts';

interface MountLookup {
  /** Asset and location, by their numbers, of a sensor at a moment; null when it was clamped nowhere known. */
  find(nodeId: string, sensor: number, atMs: number): { asset: string; location: string } | null;
  close(): void;
}

/**
 * Tags readings on their way to a database. Numbers, not names: a name may be corrected later, and a reading with
 * another tag would be another one.
 */
export function openMountLookup(file: string): MountLookup {
  const view = openRecordsView<[string, number, number, number], { asset: string; location: string }>(
    file,
    `SELECT CAST(asset_id AS TEXT) AS asset, CAST(locations.id AS TEXT) AS location FROM mounts
     JOIN locations ON locations.id = location_id
     WHERE node_id = ? AND sensor = ? AND from_ms <= ? AND (to_ms IS NULL OR to_ms > ?)`,
  );
  return {
    find: (nodeId, sensor, atMs) => view.statement()?.get(nodeId, sensor, atMs, atMs) ?? null,
    close: view.close,
  };
}
