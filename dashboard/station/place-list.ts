import type { Place } from '../../collector/index.ts';
import { openRecordsView } from './records-view.ts';

interface Row {
  asset: string;
  assetName: string;
  kind: string;
  machineClass: string;
  location: string | null;
  name: string;
  component: string;
  verdict: string | null;
  sinceMs: number;
  bearing: string | null;
}

/**
 * Assets and locations of the station as other sites may see them. What people entered beyond names (of owners, runs
 * and complaints) stays here.
 */
export function openPlaceList(file: string): { list(): Place[]; close(): void } {
  const view = openRecordsView<[], Row>(
    file,
    `SELECT CAST(assets.id AS TEXT) AS asset, assets.name AS assetName, kind, machine_class AS machineClass,
            CAST(locations.id AS TEXT) AS location, locations.name AS name, component,
            verdict, since_ms AS sinceMs, json_extract(record, '$.bearing') AS bearing
     FROM assets
     LEFT JOIN locations ON locations.asset_id = assets.id
     -- What another sensor said there, before, is history.
     LEFT JOIN mounts ON mounts.location_id = locations.id AND mounts.to_ms IS NULL
     LEFT JOIN findings ON findings.id = (SELECT max(id) FROM findings WHERE location_id = locations.id)
       AND json_extract(record, '$.nodeId') = mounts.node_id AND json_extract(record, '$.sensor') = mounts.sensor
     ORDER BY assets.id, locations.id`,
  );
  return { list: () => (view.statement()?.all() ?? []).map(placeOf), close: view.close };
}

function placeOf(row: Row): Place {
  const { asset, assetName, kind, machineClass, location, name, component, verdict, sinceMs, bearing } = row;
  return {
    asset,
    assetName,
    kind,
    machineClass,
    location: location === null ? null : { id: location, name, component },
    finding: verdict === null ? null : { verdict, bearing, sinceMs },
  };
}
