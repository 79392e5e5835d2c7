import type { Database } from 'better-sqlite3';
import type {
  GravityCheckResult,
  SensorRecord,
  SensorRequest,
  ShakerCheckResult,
} from '../../contract/rig.ts';
import { RecordError } from './record-error.ts';

/** Sensors as things: part, serial number, noise, tolerance and checks. */
export interface Sensors {
  /** Those of which something is known. */
  list(): SensorRecord[];
  find(nodeId: string, sensor: number): SensorRecord;
  /** Tolerance of a sensor in percent, as in its record; null while none is known. */
  toleranceOf(nodeId: string, sensor: number): number | null;
  /** Throws `NODE_NOT_FOUND`, as those below do. */
  mustKnow(nodeId: string): void;
  put(nodeId: string, sensor: number, data: SensorRequest): SensorRecord;
  /** Earlier checks are kept. */
  addCheck(nodeId: string, sensor: number, result: Omit<GravityCheckResult, 'atMs'>): SensorRecord;
  addShakerCheck(nodeId: string, sensor: number, result: Omit<ShakerCheckResult, 'atMs'>): SensorRecord;
}

interface Row {
  nodeId: string;
  sensor: number;
  part: string | null;
  serial: string | null;
  noise: number | null;
  tolerance: number | null;
  checkedMs: number | null;
  result: string | null;
  shakenMs: number | null;
  shaken: string | null;
}

const COLUMNS = `
  SELECT k.node_id AS nodeId, k.sensor, s.part, s.serial, s.noise_density AS noise, s.tolerance_pct AS tolerance,
    c.at_ms AS checkedMs, c.result, h.at_ms AS shakenMs, h.result AS shaken
  FROM (SELECT node_id, sensor FROM sensors UNION SELECT node_id, sensor FROM gravity_checks
    UNION SELECT node_id, sensor FROM shaker_checks) AS k
  LEFT JOIN sensors AS s ON s.node_id = k.node_id AND s.sensor = k.sensor
  LEFT JOIN gravity_checks AS c ON c.id = (
    -- By time: an older one may have come later, with an asset from another station.
    SELECT id FROM gravity_checks AS newest WHERE newest.node_id = k.node_id AND newest.sensor = k.sensor
    ORDER BY at_ms DESC, id DESC LIMIT 1
  )
  LEFT JOIN shaker_checks AS h ON h.id = (
    SELECT id FROM shaker_checks AS newest WHERE newest.node_id = k.node_id AND newest.sensor = k.sensor
    ORDER BY at_ms DESC, id DESC LIMIT 1
  )`;

export function createSensors(db: Database, now: () => number): Sensors {
  const all = db.prepare(`${COLUMNS} ORDER BY k.node_id, k.sensor`);
  const one = db.prepare(`${COLUMNS} WHERE k.node_id = ? AND k.sensor = ?`);
  const node = db.prepare('SELECT 1 FROM nodes WHERE id = ?');
  const put = db.prepare('REPLACE INTO sensors VALUES (?, ?, ?, ?, ?, ?)');
  const addCheck = db.prepare(
    'INSERT INTO gravity_checks (node_id, sensor, at_ms, result) VALUES (?, ?, ?, ?)',
  );

  const addShaken = db.prepare(
    'INSERT INTO shaker_checks (node_id, sensor, at_ms, result) VALUES (?, ?, ?, ?)',
  );

  function find(nodeId: string, sensor: number): SensorRecord {
    const row = one.get(nodeId, sensor) as Row | undefined;
    return viewOf(row ?? { ...NOTHING, nodeId, sensor });
  }

  function mustKnow(nodeId: string): void {
    if (node.get(nodeId) === undefined) throw new RecordError('NODE_NOT_FOUND');
  }

  // Asked for with every reading that is shown.
  let tolerances: Map<string, number | null> | null = null;
  const list = () => (all.all() as Row[]).map(viewOf);

  return {
    list,
    toleranceOf(nodeId, sensor) {
      tolerances ??= new Map(list().map((known) => [`${known.nodeId}/${known.sensor}`, known.tolerancePct]));
      return tolerances.get(`${nodeId}/${sensor}`) ?? null;
    },
    find,
    mustKnow,
    put(nodeId, sensor, { part, serial, noiseDensityUmPerS2PerRtHz, tolerancePct }) {
      mustKnow(nodeId);
      tolerances = null;
      put.run(nodeId, sensor, part.trim(), serial.trim(), noiseDensityUmPerS2PerRtHz, tolerancePct);
      return find(nodeId, sensor);
    },
    addCheck(nodeId, sensor, result) {
      mustKnow(nodeId);
      tolerances = null;
      addCheck.run(nodeId, sensor, now(), JSON.stringify(result));
      return find(nodeId, sensor);
    },
    addShakerCheck(nodeId, sensor, result) {
      mustKnow(nodeId);
      tolerances = null;
      addShaken.run(nodeId, sensor, now(), JSON.stringify(result));
      return find(nodeId, sensor);
    },
  };
}

const NOTHING = {
  part: null,
  serial: null,
  noise: null,
  tolerance: null,
  checkedMs: null,
  result: null,
  shakenMs: null,
  shaken: null,
};

function viewOf({ nodeId, sensor, part, serial, noise, tolerance, ...checks }: Row): SensorRecord {
  const { checkedMs, result, shakenMs, shaken } = checks;
  const gravityCheck =
    result === null
      ? null
      : { atMs: checkedMs!, ...(JSON.parse(result) as Omit<GravityCheckResult, 'atMs'>) };
  const shakerCheck =
    shaken === null ? null : { atMs: shakenMs!, ...(JSON.parse(shaken) as Omit<ShakerCheckResult, 'atMs'>) };
  const newest = (shakerCheck?.atMs ?? 0) > (gravityCheck?.atMs ?? 0) ? shakerCheck : gravityCheck;
  return {
    nodeId,
    sensor,
    part: part ?? '',
    serial: serial ?? '',
    noiseDensityUmPerS2PerRtHz: noise,
    // What was measured on this piece counts for more than what holds for all of its kind.
    tolerancePct: newest?.tolerancePct ?? tolerance,
    dataSheetTolerancePct: tolerance,
    gravityCheck,
    shakerCheck,
  };
}
