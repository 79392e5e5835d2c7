import type { Database } from 'better-sqlite3';
import type { DriveTrain } from '../../contract/drive-train.ts';

const EMPTY_DRIVE_TRAIN: DriveTrain = {
  nominalSpeedRpm: null,
  shafts: [],
  couplings: [],
  universalJoints: [],
  blades: [],
  tyre: null,
  vehicleSpeeds: {},
  bearings: [],
};

/** What turns in each asset, as people entered it. */
export interface DriveTrains {
  /** The empty one where none was entered. Bearings at locations deleted since are left out. */
  of(assetId: number): DriveTrain;
  put(assetId: number, train: DriveTrain): void;
}

export function createDriveTrains(db: Database, changed: () => void): DriveTrains {
  const find = db.prepare('SELECT train FROM drive_trains WHERE asset_id = ?').pluck();
  const places = db.prepare('SELECT id FROM locations WHERE asset_id = ?').pluck();
  const put = db.prepare(
    `INSERT INTO drive_trains (asset_id, train) VALUES (?, ?)
     ON CONFLICT (asset_id) DO UPDATE SET train = excluded.train`,
  );
  return {
    of(assetId) {
      const text = find.get(assetId) as string | undefined;
      if (text === undefined) return EMPTY_DRIVE_TRAIN;
      // A field that a later version adds is empty in what an earlier one wrote.
      const train: DriveTrain = { ...EMPTY_DRIVE_TRAIN, ...JSON.parse(text) };
      const there = new Set(places.all(assetId));
      return { ...train, bearings: train.bearings.filter(({ locationId }) => there.has(locationId)) };
    },
    put(assetId, train) {
      put.run(assetId, JSON.stringify(train));
      changed();
    },
  };
}
