import { type Static, Type } from 'typebox';
import { DriveTrain } from '../../contract/drive-train.ts';
import { AssetRequest, LocationRequest, MountRequest, NodeRequest } from '../../contract/http.ts';
import type { RecordStore } from '../../server/index.ts';

const { nodeId } = NodeRequest.properties;
const { sensor } = MountRequest.properties.mount.anyOf[0].properties;

const bearing = DriveTrain.properties.bearings;
/** Bearings name locations by their place in `locations`, from 0. */
const CarriedDriveTrain = Type.Object(
  {
    ...DriveTrain.properties,
    bearings: Type.Array(
      Type.Object(
        { ...bearing.items.properties, locationId: Type.Integer({ minimum: 0 }) },
        { additionalProperties: false },
      ),
      { maxItems: 60 },
    ),
  },
  { additionalProperties: false },
);

/**
 * `asset.json`, the first entry of an archive: an asset, its places, and what was clamped there. Version 1 had nothing
 * beside it but readings.
 */
export const AssetManifest = Type.Object({
  format: Type.Literal('clampline-asset'),
  version: Type.Union([Type.Literal(1), Type.Literal(2)]),
  site: Type.String({ maxLength: 31 }),
  exportedAtMs: Type.Integer(),
  asset: AssetRequest,
  driveTrain: CarriedDriveTrain,
  locations: Type.Array(
    Type.Object({
      ...LocationRequest.properties,
      /** Null: the sensor was still there. */
      mounts: Type.Array(
        Type.Object({
          nodeId,
          sensor,
          fromMs: Type.Integer(),
          toMs: Type.Union([Type.Integer(), Type.Null()]),
          turnedDeg: Type.Optional(Type.Union([Type.Number(), Type.Null()])),
        }),
      ),
    }),
  ),
  nodes: Type.Array(Type.Object({ nodeId, label: NodeRequest.properties.label })),
});
export type AssetManifest = Static<typeof AssetManifest>;

export const MANIFEST = 'asset.json';
/** Behind the readings: of sensors without any there is none to keep. */
export const SPECTRA = 'readings/spectra.jsonl';

const FOR_EVER = Number.MAX_SAFE_INTEGER;

export function manifestOf(
  records: RecordStore,
  assetId: number,
  site: string,
  exportedAtMs: number,
): AssetManifest {
  const { name, kind, machineClass } = records.assets.asset(assetId);
  const places = records.assets.locations(assetId);
  const numberOf = new Map(places.map(({ id }, index) => [id, index]));
  const train = records.driveTrains.of(assetId);
  const locations = places.map(({ id, name, component }) => ({
    name,
    component,
    mounts: records.mounts
      .history(id, 0, FOR_EVER)
      .map(({ nodeId, sensor, fromMs, toMs, turnedDeg }) => ({ nodeId, sensor, fromMs, toMs, turnedDeg })),
  }));
  const nodeIds = new Set(locations.flatMap(({ mounts }) => mounts.map((mount) => mount.nodeId)));
  return {
    format: 'clampline-asset',
    version: 2,
    site,
    exportedAtMs,
    asset: { name, kind, machineClass },
    driveTrain: {
      ...train,
      bearings: train.bearings.map((bearing) => ({
        ...bearing,
        locationId: numberOf.get(bearing.locationId)!,
      })),
    },
    locations,
    nodes: [...nodeIds].sort().map((id) => ({ nodeId: id, label: records.nodes.find(id)?.label ?? id })),
  };
}

export interface TakenAsset {
  assetId: number;
  /** In the order of the archive. */
  locationIds: number[];
  /** What was not there yet. */
  added: { asset: boolean; locations: number; mounts: number };
  /** Mounts that contradict what this station knows: the sensor, or the location, was taken then. */
  contradicting: { location: string; nodeId: string; sensor: number; fromMs: number }[];
}

/**
 * Makes the asset, or completes one of the same name and kind; taking the same twice changes nothing. Mounts that were
 * still in force end with the export: the sensor is not here.
 */
export function takeManifest(records: RecordStore, manifest: AssetManifest): TakenAsset {
  const { assets, mounts, nodes, driveTrains } = records;
  const known = assets
    .list()
    .find(({ name, kind }) => name === manifest.asset.name && kind === manifest.asset.kind);
  const { id: assetId } = known ?? assets.add(manifest.asset);
  const taken: TakenAsset = {
    assetId,
    locationIds: [],
    added: { asset: known === undefined, locations: 0, mounts: 0 },
    contradicting: [],
  };
  for (const { nodeId, label } of manifest.nodes) nodes.addUnadmitted(nodeId, label);

  taken.locationIds = manifest.locations.map(({ mounts: past, ...request }) => {
    const there = assets
      .locations(assetId)
      .find(({ name, component }) => name === request.name && component === request.component);
    if (there === undefined) taken.added.locations++;
    const { id } = there ?? assets.addLocation(assetId, request);
    for (const mount of past) {
      try {
        const toMs = mount.toMs ?? manifest.exportedAtMs;
        if (toMs > mount.fromMs && mounts.addPast({ ...mount, toMs, locationId: id })) taken.added.mounts++;
      } catch (error) {
        if ((error as { code?: string }).code !== 'MOUNT_OVERLAP') throw error;
        const { nodeId, sensor, fromMs } = mount;
        taken.contradicting.push({ location: request.name, nodeId, sensor, fromMs });
      }
    }
    return id;
  });
  // What people here entered of what turns is left as it is.
  if (known === undefined) {
    const { bearings, ...rest } = manifest.driveTrain;
    const placed = bearings.flatMap((bearing) => {
      const locationId = taken.locationIds[bearing.locationId];
      return locationId === undefined ? [] : [{ ...bearing, locationId }];
    });
    driveTrains.put(assetId, { ...rest, bearings: placed });
  }
  return taken;
}
