import type { FleetSite } from '../../../collector/index.ts';
import { MachineClass } from '../../contract/model.ts';
import type { Site, SiteAlert, SiteAsset, SiteLocation } from '../../contract/sites.ts';
import type { DashboardDeps } from '../config.ts';

type ZoneOf = DashboardDeps['zoneOf'];
type Level = FleetSite['levels'][number];

/** What a station told, put together: its assets by name, and the newest level where each sensor is clamped. */
export function siteView(told: FleetSite, ownSite: string, zoneOf: ZoneOf): Site {
  const levels = newestByLocation(told.levels);
  const assets = new Map<string, SiteAsset>();
  const assetOf = (id: string): SiteAsset => {
    const found = assets.get(id) ?? { id, name: null, kind: null, machineClass: null, locations: [] };
    assets.set(id, found);
    return found;
  };
  for (const place of told.places) {
    const asset = assetOf(place.asset);
    asset.name = place.assetName;
    asset.kind = place.kind === 'vehicle' || place.kind === 'machine' ? place.kind : null;
    asset.machineClass = machineClassOf(place.machineClass);
    if (place.location === null) continue;
    const { id, name, component } = place.location;
    const level = levels.get(keyOf(place.asset, id));
    levels.delete(keyOf(place.asset, id));
    asset.locations.push({
      id,
      name,
      component,
      newest: newestOf(level, asset.machineClass, zoneOf),
      finding: place.finding,
    });
  }
  // Of a station that has not told its places, or not since a sensor was clamped to a new one. What it has told and
  // does not name any more was removed there.
  for (const level of levels.values()) {
    if (told.announcedMs !== null && level.heardMs < told.announcedMs) continue;
    const { asset: assetId, location } = level.mount!;
    const asset = assetOf(assetId);
    asset.locations.push({
      id: location,
      name: null,
      component: null,
      newest: newestOf(level, asset.machineClass, zoneOf),
      finding: null,
    });
  }
  return {
    site: told.site,
    own: told.site === ownSite,
    announcedMs: told.announcedMs,
    assets: [...assets.values()],
    alerts: alertsOf(told),
    unplacedSensors: told.levels.filter(({ mount }) => mount === null).length,
  };
}

/** An alert about what its station does not have any more was never cleared: what it was about is gone. */
function alertsOf({ places, alerts, announcedMs }: FleetSite): SiteAlert[] {
  return alerts.flatMap(({ about: _, asset, location, ...alert }) => {
    const own = places.filter((place) => place.asset === asset);
    const known = location === null || own.some((one) => one.location?.id === location);
    return announcedMs !== null && asset !== null && (own.length === 0 || !known) ? [] : alert;
  });
}

const keyOf = (asset: string, location: string) => JSON.stringify([asset, location]);

/** A location whose sensor was changed was heard from both. */
function newestByLocation(levels: readonly Level[]): Map<string, Level> {
  const newest = new Map<string, Level>();
  for (const level of levels) {
    if (level.mount === null) continue;
    const key = keyOf(level.mount.asset, level.mount.location);
    if (level.heardMs > (newest.get(key)?.heardMs ?? Number.NEGATIVE_INFINITY)) newest.set(key, level);
  }
  return newest;
}

function newestOf(
  level: Level | undefined,
  machineClass: MachineClass | null,
  zoneOf: ZoneOf,
): SiteLocation['newest'] {
  if (level === undefined) return null;
  const { heardMs, flags, velocity } = level;
  return {
    heardMs,
    flags,
    level:
      velocity === null
        ? null
        : {
            atMs: velocity.atMs,
            velocityRmsMmPerS: velocity.rmsMmPerS,
            velocityUncertaintyMmPerS: velocity.uncertaintyMmPerS,
            zone: machineClass === null ? null : zoneOf(velocity.rmsMmPerS, machineClass),
          },
  };
}

/** Null for what a newer station may tell. */
function machineClassOf(text: string): MachineClass | null {
  return MachineClass.enum.find((known) => known === text) ?? null;
}
