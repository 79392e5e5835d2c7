import type { Database } from 'better-sqlite3';
import { RecordError } from './record-error.ts';

export interface MountedSensor {
  nodeId: string;
  sensor: number;
}

/** One sensor at one location from `fromMs` until `toMs` (exclusive; null: still there). Times are Unix ms. */
export interface MountRecord extends MountedSensor {
  locationId: number;
  fromMs: number;
  toMs: number | null;
  /** How far the sensor had turned when this stretch began; null: a person put or confirmed it. */
  turnedDeg: number | null;
}

export interface Mounts {
  current(): MountRecord[];
  currentAt(locationId: number): MountRecord | null;
  /** The mount a sensor has, or had, at a moment of event time. */
  ofSensor(sensor: MountedSensor, atMs: number): MountRecord | null;
  /** Mounts of a location that touch the span, oldest first. */
  history(locationId: number, fromMs: number, toMs: number): MountRecord[];
  /**
   * Puts a sensor at a location from `fromMs` on (default: now), or takes it off (null). A sensor is at one place
   * at a time and a location has one sensor at a time, so both leave where they were. Throws
   * `LOCATION_NOT_FOUND`, `NODE_NOT_FOUND` (unknown or revoked), `MOUNT_OVERLAP` (`fromMs` reaches back into
   * another mount's history).
   */
  put(locationId: number, sensor: MountedSensor | null, fromMs?: number): void;
  /**
   * Adds a mount of the past, as another station recorded it; false when it is there already. Throws
   * `MOUNT_OVERLAP`. Its node must have been heard of.
   */
  addPast(
    mount: Pick<MountRecord, 'locationId' | 'nodeId' | 'sensor' | 'fromMs'> & {
      toMs: number;
      turnedDeg?: number | null | undefined;
    },
  ): boolean;
}

export function createMounts(db: Database, now: () => number, changed: () => void): Mounts {
  const columns =
    'location_id AS locationId, node_id AS nodeId, sensor, from_ms AS fromMs, to_ms AS toMs, turned_deg AS turnedDeg';
  const sql = {
    current: db.prepare(`SELECT ${columns} FROM mounts WHERE to_ms IS NULL ORDER BY location_id`),
    currentAt: db.prepare(`SELECT ${columns} FROM mounts WHERE location_id = ? AND to_ms IS NULL`),
    ofSensor: db.prepare(
      `SELECT ${columns} FROM mounts WHERE node_id = @nodeId AND sensor = @sensor
       AND from_ms <= @atMs AND (to_ms IS NULL OR to_ms > @atMs)`,
    ),
    history: db.prepare(
      `SELECT ${columns} FROM mounts WHERE location_id = ? AND from_ms < ? AND (to_ms IS NULL OR to_ms > ?)
       ORDER BY from_ms`,
    ),
    openOnes: db.prepare(
      `SELECT id, from_ms AS fromMs FROM mounts
       WHERE to_ms IS NULL AND (location_id = @locationId OR (node_id = @nodeId AND sensor = @sensor))`,
    ),
    location: db.prepare('SELECT 1 FROM locations WHERE id = ?'),
    node: db.prepare('SELECT 1 FROM nodes WHERE id = ? AND revoked_ms IS NULL'),
    end: db.prepare('UPDATE mounts SET to_ms = ? WHERE id = ?'),
    forget: db.prepare('DELETE FROM mounts WHERE id = ?'),
    lastEnd: db
      .prepare(
        `SELECT max(to_ms) FROM mounts
         WHERE location_id = @locationId OR (node_id = @nodeId AND sensor = @sensor)`,
      )
      .pluck(),
    insert: db.prepare('INSERT INTO mounts (location_id, node_id, sensor, from_ms) VALUES (?, ?, ?, ?)'),
    same: db.prepare(
      'SELECT 1 FROM mounts WHERE location_id = ? AND node_id = ? AND sensor = ? AND from_ms = ?',
    ),
    insertPast: db.prepare(
      'INSERT INTO mounts (location_id, node_id, sensor, from_ms, to_ms, turned_deg) VALUES (?, ?, ?, ?, ?, ?)',
    ),
  };

  const put = db.transaction((locationId: number, sensor: MountedSensor | null, fromMs?: number): boolean => {
    if (sql.location.get(locationId) === undefined) throw new RecordError('LOCATION_NOT_FOUND');
    const there = sql.currentAt.get(locationId) as MountRecord | undefined;
    if (sensor === null && there === undefined) return false;
    if (sensor !== null) {
      if (sql.node.get(sensor.nodeId) === undefined) throw new RecordError('NODE_NOT_FOUND');
      if (there?.nodeId === sensor.nodeId && there.sensor === sensor.sensor) return false;
    }
    const place = { locationId, nodeId: sensor?.nodeId ?? null, sensor: sensor?.sensor ?? null };
    const open = sql.openOnes.all(place) as { id: number; fromMs: number }[];
    if (fromMs !== undefined && open.some((mount) => mount.fromMs > fromMs)) {
      throw new RecordError('MOUNT_OVERLAP');
    }
    // The station's clock may have been set back since: a mount then begins where the last one ended.
    const begun = open.map((mount) => mount.fromMs);
    const lastEnd = fromMs === undefined ? ((sql.lastEnd.get(place) as number | null) ?? 0) : 0;
    const atMs = fromMs ?? Math.max(now(), lastEnd, ...begun);
    for (const mount of open) {
      // A mount that began this very millisecond was never in force.
      if (mount.fromMs === atMs) sql.forget.run(mount.id);
      else sql.end.run(atMs, mount.id);
    }
    if (sensor !== null) insert(locationId, sensor, atMs);
    return true;
  });

  function insert(locationId: number, sensor: MountedSensor, fromMs: number): void {
    unlessOverlapping(() => sql.insert.run(locationId, sensor.nodeId, sensor.sensor, fromMs));
  }

  function unlessOverlapping(work: () => void): void {
    try {
      work();
    } catch (error) {
      if ((error as Error).message === 'mounts overlap') throw new RecordError('MOUNT_OVERLAP');
      throw error;
    }
  }

  return {
    current: () => sql.current.all() as MountRecord[],
    currentAt: (locationId) => (sql.currentAt.get(locationId) as MountRecord | undefined) ?? null,
    ofSensor: ({ nodeId, sensor }, atMs) =>
      (sql.ofSensor.get({ nodeId, sensor, atMs }) as MountRecord | undefined) ?? null,
    history: (locationId, fromMs, toMs) => sql.history.all(locationId, toMs, fromMs) as MountRecord[],
    put(locationId, sensor, fromMs) {
      if (put.immediate(locationId, sensor, fromMs)) changed();
    },
    addPast({ locationId, nodeId, sensor, fromMs, toMs, turnedDeg = null }) {
      if (sql.same.get(locationId, nodeId, sensor, fromMs) !== undefined) return false;
      unlessOverlapping(() => sql.insertPast.run(locationId, nodeId, sensor, fromMs, toMs, turnedDeg));
      changed();
      return true;
    },
  };
}
