import type { Database } from 'better-sqlite3';
import type { AssetRequest, LocationRequest } from '../../contract/http.ts';
import { RecordError } from './record-error.ts';

const MOST_ASSETS = 2_000;
const MOST_LOCATIONS_OF_AN_ASSET = 200;

export interface LocationRecord {
  id: number;
  assetId: number;
  name: string;
  component: string;
}

export interface AssetRecord extends AssetRequest {
  id: number;
}

export interface Assets {
  list(): AssetRecord[];
  /** Of one asset, or all. */
  locations(assetId?: number): LocationRecord[];
  /** Throws `ASSET_NOT_FOUND`, as the changes below do. */
  asset(assetId: number): AssetRecord;
  /** Throws `LOCATION_NOT_FOUND`, as the changes below do. */
  location(locationId: number): LocationRecord;
  add(asset: AssetRequest): AssetRecord;
  change(assetId: number, change: Partial<AssetRequest>): AssetRecord;
  /** Takes its locations and their mount history along; readings of the sensors stay in the other store. */
  remove(assetId: number): void;
  addLocation(assetId: number, location: LocationRequest): LocationRecord;
  changeLocation(locationId: number, change: Partial<LocationRequest>): LocationRecord;
  removeLocation(locationId: number): void;
}

export function createAssets(db: Database, now: () => number, changed: () => void): Assets {
  const assetColumns = 'id, name, kind, machine_class AS machineClass';
  const locationColumns = 'id, asset_id AS assetId, name, component';
  const sql = {
    list: db.prepare(`SELECT ${assetColumns} FROM assets ORDER BY id`),
    find: db.prepare(`SELECT ${assetColumns} FROM assets WHERE id = ?`),
    count: db.prepare('SELECT count(*) FROM assets').pluck(),
    add: db.prepare('INSERT INTO assets (name, kind, machine_class, created_ms) VALUES (?, ?, ?, ?)'),
    change: db.prepare('UPDATE assets SET name = ?, kind = ?, machine_class = ? WHERE id = ?'),
    remove: db.prepare('DELETE FROM assets WHERE id = ?'),
    locations: db.prepare(`SELECT ${locationColumns} FROM locations ORDER BY id`),
    locationsOf: db.prepare(`SELECT ${locationColumns} FROM locations WHERE asset_id = ? ORDER BY id`),
    findLocation: db.prepare(`SELECT ${locationColumns} FROM locations WHERE id = ?`),
    countLocations: db.prepare('SELECT count(*) FROM locations WHERE asset_id = ?').pluck(),
    addLocation: db.prepare('INSERT INTO locations (asset_id, name, component) VALUES (?, ?, ?)'),
    changeLocation: db.prepare('UPDATE locations SET name = ?, component = ? WHERE id = ?'),
    removeLocation: db.prepare('DELETE FROM locations WHERE id = ?'),
  };

  function find(assetId: number): AssetRecord {
    const asset = sql.find.get(assetId) as AssetRecord | undefined;
    if (asset === undefined) throw new RecordError('ASSET_NOT_FOUND');
    return asset;
  }

  function findLocation(locationId: number): LocationRecord {
    const location = sql.findLocation.get(locationId) as LocationRecord | undefined;
    if (location === undefined) throw new RecordError('LOCATION_NOT_FOUND');
    return location;
  }

  return {
    list: () => sql.list.all() as AssetRecord[],
    locations: (assetId) =>
      (assetId === undefined ? sql.locations.all() : sql.locationsOf.all(assetId)) as LocationRecord[],
    asset: find,
    location: findLocation,
    add(asset) {
      if ((sql.count.get() as number) >= MOST_ASSETS) throw new RecordError('TOO_MANY_RECORDS');
      const { lastInsertRowid } = sql.add.run(asset.name.trim(), asset.kind, asset.machineClass, now());
      changed();
      return find(Number(lastInsertRowid));
    },
    change(assetId, change) {
      const { name, kind, machineClass } = { ...find(assetId), ...change };
      sql.change.run(name.trim(), kind, machineClass, assetId);
      changed();
      return find(assetId);
    },
    remove(assetId) {
      if (sql.remove.run(assetId).changes === 0) throw new RecordError('ASSET_NOT_FOUND');
      changed();
    },
    addLocation(assetId, location) {
      find(assetId);
      if ((sql.countLocations.get(assetId) as number) >= MOST_LOCATIONS_OF_AN_ASSET) {
        throw new RecordError('TOO_MANY_RECORDS');
      }
      const { name, component } = location;
      const { lastInsertRowid } = sql.addLocation.run(assetId, name.trim(), component.trim());
      changed();
      return findLocation(Number(lastInsertRowid));
    },
    changeLocation(locationId, change) {
      const { name, component } = { ...findLocation(locationId), ...change };
      sql.changeLocation.run(name.trim(), component.trim(), locationId);
      changed();
      return findLocation(locationId);
    },
    removeLocation(locationId) {
      if (sql.removeLocation.run(locationId).changes === 0) throw new RecordError('LOCATION_NOT_FOUND');
      changed();
    },
  };
}
