import type { MountRequest } from '../../contract/http.ts';
import type { Asset, Location, NodeSummary } from '../../contract/model.ts';

type Mount = NonNullable<MountRequest['mount']>;

export interface MountOption {
  key: string;
  label: string;
  chosen: boolean;
}

export const sensorKey = ({ nodeId, sensor }: Mount): string => `${nodeId}/${sensor}`;

export function parseMount(key: string): MountRequest['mount'] {
  const [nodeId, sensor] = key.split('/');
  return nodeId && sensor ? { nodeId, sensor: Number(sensor) } : null;
}

/** Sensors to choose from, each with where it sits now: mounting one elsewhere takes it from there. */
export function mountOptions(
  nodes: readonly NodeSummary[],
  assets: readonly Asset[],
  place: Location,
): MountOption[] {
  const current = place.mount ? sensorKey(place.mount) : '';
  const options: MountOption[] = [{ key: '', label: 'none', chosen: current === '' }];
  for (const node of nodes) {
    // A node that has not sent yet has at least its first sensor.
    const sensors = node.sensors.length > 0 ? node.sensors : [{ sensor: 0, locationId: null }];
    for (const { sensor, locationId } of sensors) {
      const key = sensorKey({ nodeId: node.nodeId, sensor });
      const name = sensors.length === 1 && sensor === 0 ? node.label : `${node.label}, sensor ${sensor + 1}`;
      const where = locationId === null || key === current ? '' : `, now at ${placeName(assets, locationId)}`;
      options.push({ key, label: `${name}${where}`, chosen: key === current });
    }
  }
  // The mounted sensor stays choosable even when its node is gone from the list.
  if (current !== '' && !options.some(({ chosen }) => chosen))
    options.push({
      key: current,
      label: `${place.mount!.nodeId}, sensor ${place.mount!.sensor + 1}`,
      chosen: true,
    });
  return options;
}

export function placeName(assets: readonly Asset[], locationId: number): string {
  for (const asset of assets)
    for (const place of asset.locations) if (place.id === locationId) return `${asset.name}, ${place.name}`;
  return 'another location';
}
