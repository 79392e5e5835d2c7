import { join } from 'node:path';
import type { Reading } from '../../../../collector/model.ts';
import { alertPointWriter } from '../../../../collector/store/influx/alert-points.ts';
import { type InfluxStore, openInfluxStore } from '../../../../collector/store/influx/influx-store.ts';
import type { Place } from '../../../../collector/store/influx/place-points.ts';
import type { InfluxSettings } from '../../../../collector/store/influx/settings.ts';
import { madeReading } from '../reading-store-contract.ts';

/** Names of three sites, and the identities of their nodes, which are unique among all sites. */
export interface Fleet {
  depot: string;
  harbour: string;
  /** Sends readings, and tells nothing of its assets. */
  yard: string;
  nodes: [string, string, string];
}

const vehicle = (asset: string, assetName: string, machineClass: string) => ({
  asset,
  assetName,
  kind: 'vehicle',
  machineClass,
});
const at = (id: string, name: string, component: string) => ({ id, name, component });

/** Numbers of assets and locations are each station's own: those of two sites are the same. */
export const PLACES: { depot: Place[]; harbour: Place[] } = {
  depot: [
    {
      ...vehicle('1', 'Bus 1', 'II'),
      location: at('1', 'Left hub', 'Rear axle'),
      finding: { verdict: 'outer', bearing: '6205', sinceMs: 1_760_000_000_000 },
    },
    {
      ...vehicle('1', 'Bus 1', 'II'),
      location: at('2', 'Housing', 'Gearbox'),
      finding: { verdict: 'not-clear', bearing: null, sinceMs: 1_760_000_100_000 },
    },
    {
      asset: '2',
      assetName: 'Extraction fan',
      kind: 'machine',
      machineClass: 'I',
      location: null,
      finding: null,
    },
  ],
  harbour: [
    {
      ...vehicle('1', 'Bus 7, "the blue one"', 'III'),
      location: at('1', 'Mount = left\\', 'Motor, Größe 2'),
      finding: null,
    },
    {
      ...vehicle('1', 'Bus 7, "the blue one"', 'III'),
      location: at('2', 'Hub', 'Front axle'),
      finding: null,
    },
  ],
};

const ALERT = {
  sinceMs: 1_760_000_000_000,
  isAcknowledged: false,
  about: 'change',
  assetId: 1,
  title: 'Bus 1, Left hub: velocity RMS has risen',
  value: 1.62,
  limit: 1.4,
  unit: 'ratio',
  falseAlarmsPerYear: 0.5,
};

/** One that stands and is known of, one that has been cleared, and one of a node; the same numbers at two sites. */
async function tellAlerts(settings: InfluxSettings, depot: string, harbour: string): Promise<void> {
  const [atDepot, atHarbour] = [depot, harbour].map((site) => alertPointWriter(settings, site));
  const atMs = reading(130, 1).startMs;
  await atDepot!([
    { ...ALERT, atMs, alertId: 7, locationId: 1, isOpen: true },
    { ...ALERT, atMs, alertId: 8, locationId: 2, isOpen: true },
    { ...ALERT, atMs: atMs + 1000, alertId: 8, locationId: 2, isOpen: false },
  ]);
  await atDepot!([
    { ...ALERT, atMs: atMs + 2000, alertId: 7, locationId: 1, isOpen: true, isAcknowledged: true },
  ]);
  const node = { about: 'node-quiet', assetId: null, locationId: null, value: null, limit: null, unit: '' };
  await atHarbour!([
    {
      ...ALERT,
      ...node,
      atMs: atMs + 3000,
      alertId: 7,
      isOpen: true,
      title: 'Nothing heard of "Rear, left"',
    },
  ]);
}

function reading(second: number, velocity: number, extra: Partial<Reading> = {}): Reading {
  const made = madeReading(second, velocity, extra);
  return {
    ...made,
    axes: made.axes.map((axis) => ({
      ...axis,
      meanMPerS2: 0.5,
      velocityUncertaintyMmPerS: axis.velocityRmsMmPerS === null ? null : axis.velocityRmsMmPerS / 8,
    })),
  };
}

/** Opens the stores of the three stations, and commits what each measured; the caller closes them. */
export async function openStations(
  settings: InfluxSettings,
  { depot, harbour, yard, nodes }: Fleet,
  folder: string,
): Promise<InfluxStore[]> {
  const open = (site: string, options: Partial<Parameters<typeof openInfluxStore>[2]>) =>
    openInfluxStore(join(folder, `${site}.sqlite`), settings, { site, ...options });
  const first = await open(depot, {
    places: () => PLACES.depot,
    mountOf: (_, sensor) => (sensor === 2 ? null : { asset: '1', location: String(sensor + 1) }),
  });
  const of = (node: number, sensor = 0, more: Partial<Reading> = {}) => ({
    nodeId: nodes[node]!,
    sensor,
    ...more,
  });
  await first.commit(
    [
      reading(99, 2, of(0)),
      reading(100, 4, of(0)),
      reading(99, 1.5, of(0, 1)),
      reading(101, 9, of(0, 1, { flags: ['clipped'] })),
      reading(100, 7, of(0, 2)),
    ],
    1,
  );
  // Clamped to another location meanwhile.
  const second = await open(harbour, {
    places: () => PLACES.harbour,
    mountOf: (_, __, atMs) => ({ asset: '1', location: atMs < reading(50, 1).startMs ? '1' : '2' }),
  });
  await second.commit(
    [reading(40, 8, of(1)), reading(120, 0.5, of(1, 0, { flags: ['below-noise-floor'] }))],
    1,
  );
  const third = await open(yard, { mountOf: () => ({ asset: '4', location: '9' }) });
  await third.commit([reading(60, 3, of(2))], 1);
  await tellAlerts(settings, depot, harbour);
  return [first, second, third];
}

/** A moment at which all that was measured is new. */
export const NOW_MS = reading(130, 1).startMs;

/** What a fleet reader must make of it; `announcedMs` is whenever the test ran. */
export function expectedSites({ depot, harbour, yard, nodes }: Fleet) {
  const atMs = (second: number) => reading(second, 1).startMs;
  const velocity = (second: number, rms: number) => ({
    rmsMmPerS: rms,
    uncertaintyMmPerS: rms / 8,
    atMs: atMs(second),
  });
  return [
    {
      site: depot,
      alerts: [
        {
          id: '7',
          about: 'change',
          asset: '1',
          location: '1',
          title: 'Bus 1, Left hub: velocity RMS has risen',
          value: 1.62,
          limit: 1.4,
          unit: 'ratio',
          sinceMs: 1_760_000_000_000,
          isAcknowledged: true,
        },
      ],
      places: PLACES.depot,
      levels: [
        {
          nodeId: nodes[0],
          sensor: 0,
          mount: { asset: '1', location: '1' },
          heardMs: atMs(100),
          flags: [],
          velocity: velocity(100, 4),
        },
        {
          nodeId: nodes[0],
          sensor: 1,
          mount: { asset: '1', location: '2' },
          heardMs: atMs(101),
          flags: ['clipped'],
          velocity: velocity(99, 1.5),
        },
        {
          nodeId: nodes[0],
          sensor: 2,
          mount: null,
          heardMs: atMs(100),
          flags: [],
          velocity: velocity(100, 7),
        },
      ],
    },
    {
      site: harbour,
      alerts: [
        {
          id: '7',
          about: 'node-quiet',
          asset: null,
          location: null,
          title: 'Nothing heard of "Rear, left"',
          value: null,
          limit: null,
          unit: '',
          sinceMs: 1_760_000_000_000,
          isAcknowledged: false,
        },
      ],
      places: PLACES.harbour,
      levels: [
        {
          nodeId: nodes[1],
          sensor: 0,
          mount: { asset: '1', location: '2' },
          heardMs: atMs(120),
          flags: ['below-noise-floor'],
          velocity: velocity(120, 0.5),
        },
      ],
    },
    {
      site: yard,
      alerts: [],
      announcedMs: null,
      places: [],
      levels: [
        {
          nodeId: nodes[2],
          sensor: 0,
          mount: { asset: '4', location: '9' },
          heardMs: atMs(60),
          flags: [],
          velocity: velocity(60, 3),
        },
      ],
    },
  ];
}
