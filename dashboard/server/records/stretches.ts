import type { Database } from 'better-sqlite3';
import { RecordError } from './record-error.ts';

/** Acceleration along the sensor's axes, m/s². */
type Vector = readonly [number, number, number];

/** A mount in force, with what is watched of it. */
export interface StretchRecord {
  mountId: number;
  nodeId: string;
  sensor: number;
  locationId: number;
  assetId: number;
  assetKind: 'vehicle' | 'machine';
  fromMs: number;
  /** Gravity as the mount was set; null until it was learned. */
  gravity: Vector | null;
}

/**
 * A mount ends and another of the same sensor at the same location begins when the sensor was moved there: levels
 * before and after are not like with like, and everything that goes by mounts (the trend first) begins anew.
 */
export interface Stretches {
  current(): StretchRecord[];
  /** Keeps the direction of gravity as set; nothing happens when the mount is no longer in force. */
  learn(mountId: number, gravity: Vector): void;
  /** The sensor had turned by `turnedDeg` at `atMs`. Returns false when the mount is no longer in force. */
  turned(mountId: number, atMs: number, turnedDeg: number): boolean;
  /** A person says that the mount is right as it is now. Throws `MOUNT_NOT_FOUND` when no sensor is there. */
  confirm(locationId: number): void;
}

interface Row {
  id: number;
  nodeId: string;
  sensor: number;
  locationId: number;
  assetId: number;
  assetKind: 'vehicle' | 'machine';
  fromMs: number;
  x: number | null;
  y: number | null;
  z: number | null;
}

export function createStretches(db: Database, now: () => number, changed: () => void): Stretches {
  const sql = {
    current: db.prepare(
      `SELECT m.id, m.node_id AS nodeId, m.sensor, m.location_id AS locationId, a.id AS assetId, a.kind AS assetKind,
         m.from_ms AS fromMs, m.gravity_x AS x, m.gravity_y AS y, m.gravity_z AS z
       FROM mounts AS m JOIN locations AS l ON l.id = m.location_id JOIN assets AS a ON a.id = l.asset_id
       WHERE m.to_ms IS NULL ORDER BY m.id`,
    ),
    at: db.prepare('SELECT id, from_ms AS fromMs FROM mounts WHERE location_id = ? AND to_ms IS NULL'),
    inForce: db.prepare('SELECT id, from_ms AS fromMs FROM mounts WHERE id = ? AND to_ms IS NULL'),
    learn: db.prepare(
      'UPDATE mounts SET gravity_x = ?, gravity_y = ?, gravity_z = ? WHERE id = ? AND to_ms IS NULL',
    ),
    end: db.prepare('UPDATE mounts SET to_ms = ? WHERE id = ?'),
    begin: db.prepare(
      `INSERT INTO mounts (location_id, node_id, sensor, from_ms, turned_deg)
       SELECT location_id, node_id, sensor, ?, ? FROM mounts WHERE id = ?`,
    ),
    restart: db.prepare(
      `UPDATE mounts SET turned_deg = ?, gravity_x = NULL, gravity_y = NULL, gravity_z = NULL WHERE id = ?`,
    ),
  };

  const split = db.transaction((mount: { id: number; fromMs: number }, atMs: number, deg: number | null) => {
    // One that has just begun, or that the station's clock says begins later, is changed itself.
    if (atMs <= mount.fromMs) {
      sql.restart.run(deg, mount.id);
      return;
    }
    sql.end.run(atMs, mount.id);
    sql.begin.run(atMs, deg, mount.id);
  });

  return {
    current: () =>
      (sql.current.all() as Row[]).map(({ id, x, y, z, ...row }) => ({
        ...row,
        mountId: id,
        gravity: x === null || y === null || z === null ? null : [x, y, z],
      })),
    learn: (mountId, [x, y, z]) => void sql.learn.run(x, y, z, mountId),
    turned(mountId, atMs, turnedDeg) {
      const mount = sql.inForce.get(mountId) as { id: number; fromMs: number } | undefined;
      if (mount === undefined) return false;
      split.immediate(mount, Math.round(atMs), turnedDeg);
      changed();
      return true;
    },
    confirm(locationId) {
      const mount = sql.at.get(locationId) as { id: number; fromMs: number } | undefined;
      if (mount === undefined) throw new RecordError('MOUNT_NOT_FOUND');
      split.immediate(mount, now(), null);
      changed();
    },
  };
}
