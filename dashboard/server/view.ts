import { forKnownSensor, type Reading } from '../../collector/index.ts';
import type {
  Asset,
  AxisReading,
  LocationReading,
  Location as LocationView,
  MachineClass,
} from '../contract/model.ts';
import type { DashboardDeps } from './config.ts';
import type { NewestReadings } from './live/newest-readings.ts';
import type { AssetRecord, LocationRecord } from './records/assets.ts';
import type { StandingVerdict } from './records/findings.ts';
import type { MountRecord } from './records/mounts.ts';
import type { RecordStore } from './records/record-store.ts';

type ZoneOf = DashboardDeps['zoneOf'];

/** Sources of a view: what people told, what was measured, and how to judge it. */
export interface ViewSources {
  records: RecordStore;
  newest: NewestReadings;
  zoneOf: ZoneOf;
}

/** A reading as seen at a location. The highest axis leads; axes without a value cannot. */
export function locationReading(
  reading: Reading,
  locationId: number,
  machineClass: MachineClass,
  zoneOf: ZoneOf,
  /** Of the sensor, percent; null: the usual one of its kind, with which readings are made. */
  tolerancePct: number | null = null,
): LocationReading {
  let highest: LocationReading['highest'] = null;
  const axes = reading.axes.map((values) => axisView(values, tolerancePct));
  for (const { axis, velocityRmsMmPerS, velocityUncertaintyMmPerS = null } of axes) {
    if (velocityRmsMmPerS === null || velocityRmsMmPerS <= (highest?.velocityRmsMmPerS ?? -1)) continue;
    const zone = zoneOf(velocityRmsMmPerS, machineClass);
    highest = { axis, velocityRmsMmPerS, velocityUncertaintyMmPerS, zone };
  }
  const { startMs, durationS, sampleRateHz, bandHz, flags } = reading;
  return {
    locationId,
    startMs,
    durationS,
    sampleRateHz,
    bandHz,
    axes,
    highest,
    flags,
  };
}

function axisView(values: AxisReading, tolerancePct: number | null): AxisReading {
  const { axis, velocityRmsMmPerS, velocityUncertaintyMmPerS: usual = null } = values;
  const isKnown = tolerancePct !== null && velocityRmsMmPerS !== null && usual !== null;
  const velocityUncertaintyMmPerS = isKnown
    ? forKnownSensor(velocityRmsMmPerS, usual, tolerancePct / 100)
    : usual;
  const { accelerationRmsMPerS2, accelerationPeakMPerS2, crestFactor, kurtosis } = values;
  return {
    axis,
    velocityRmsMmPerS,
    velocityUncertaintyMmPerS,
    accelerationRmsMPerS2,
    accelerationPeakMPerS2,
    crestFactor,
    kurtosis,
  };
}

/**
 * Span of block starts that a mount covers, in Unix ms, end exclusive. Blocks are whole seconds: the ones in which
 * the sensor was put on or taken off hold the hand that did it, and belong to no location.
 */
export function coveredSpan(mount: MountRecord): { fromMs: number; toMs: number } {
  const toMs = mount.toMs === null ? Number.MAX_SAFE_INTEGER : Math.floor(mount.toMs / 1000) * 1000;
  return { fromMs: Math.ceil(mount.fromMs / 1000) * 1000, toMs };
}

/** Whether the block that begins at `startMs` lies wholly inside the mount. */
export function covers(mount: MountRecord, startMs: number): boolean {
  const { fromMs, toMs } = coveredSpan(mount);
  return startMs >= fromMs && startMs < toMs;
}

function mountView(
  { nodeId, sensor, fromMs, turnedDeg }: MountRecord,
  tolerancePct: number | null,
): NonNullable<LocationView['mount']> {
  const turned = turnedDeg === null ? {} : { turned: { atMs: fromMs, turnedDeg } };
  return { nodeId, sensor, ...(tolerancePct === null ? {} : { tolerancePct }), ...turned };
}

export function locationView(
  sources: ViewSources,
  location: LocationRecord,
  asset: AssetRecord,
  mount = sources.records.mounts.currentAt(location.id),
  standing = sources.records.findings.standingAt(location.id),
): LocationView {
  const tolerancePct =
    mount === null ? null : sources.records.sensors.toleranceOf(mount.nodeId, mount.sensor);
  const reading = mount === null ? null : sources.newest.of(mount);
  const shown = mount !== null && reading !== null && covers(mount, reading.startMs) ? reading : null;
  return {
    id: location.id,
    name: location.name,
    component: location.component,
    mount: mount === null ? null : mountView(mount, tolerancePct),
    newest:
      shown === null
        ? null
        : locationReading(shown, location.id, asset.machineClass, sources.zoneOf, tolerancePct),
    finding: shownFinding(standing, mount),
  };
}

/** What another sensor said there, before, is history. */
function shownFinding(
  standing: StandingVerdict | null,
  mount: MountRecord | null,
): NonNullable<LocationView['finding']> | null {
  if (standing === null || standing.nodeId !== mount?.nodeId || standing.sensor !== mount.sensor) return null;
  const { verdict, sinceMs, bearing } = standing;
  return { verdict, sinceMs, bearing };
}

export function assetView(sources: ViewSources, asset: AssetRecord): Asset {
  const locations = sources.records.assets.locations(asset.id);
  return { ...asset, locations: locations.map((location) => locationView(sources, location, asset)) };
}

/** All assets at once: three questions to the records, however many locations there are. */
export function allAssetsView(sources: ViewSources): Asset[] {
  const { assets, mounts, findings } = sources.records;
  const standing = findings.standing();
  const mountOf = new Map(mounts.current().map((mount) => [mount.locationId, mount]));
  const locationsOf = new Map<number, LocationRecord[]>();
  for (const location of assets.locations()) {
    const siblings = locationsOf.get(location.assetId);
    if (siblings === undefined) locationsOf.set(location.assetId, [location]);
    else siblings.push(location);
  }
  return assets.list().map((asset) => ({
    ...asset,
    locations: (locationsOf.get(asset.id) ?? []).map((location) =>
      locationView(
        sources,
        location,
        asset,
        mountOf.get(location.id) ?? null,
        standing.get(location.id) ?? null,
      ),
    ),
  }));
}
