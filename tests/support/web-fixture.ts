import { cp, mkdtemp, rm } from 'node:fs/promises';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Aedes } from 'aedes';
import {
  analyseSpan,
  type FleetReader,
  type NodeHealth,
  openReadingReader,
  type SensorKey,
  type Tap,
  zoneOf,
} from '../../collector/index.ts';
import type { AxisValues, BlockSpectrum, Flag, LiveBlock, Reading } from '../../collector/model.ts';
import { openSqliteStore } from '../../collector/store/sqlite-store.ts';
import type { StationAddress } from '../../dashboard/contract/rig.ts';
import { createDashboard, openRecordStore, type RecordStore } from '../../dashboard/server/index.ts';
import { createEvaluationSchedule } from '../../dashboard/server/weeks/schedule.ts';
import { healthTopic, liveTopic, readingTopic, tapTopic } from '../../firmware-protocol/index.ts';
import { projectRoot } from './station.ts';

const SITE = 'kirchberg';
export const PERSON = { name: 'Ines', password: 'a long enough sentence' };
/** Has the role technician; the other one, shop. */
export const TECHNICIAN = { name: 'Jo', password: 'another long sentence' };
const builtPage = join(projectRoot, 'dist', 'dashboard', 'web');

const STATION: StationAddress = {
  site: SITE,
  mqtt: {
    hosts: ['192.168.7.20'],
    port: 8883,
    tls: true,
    certificateSha256: Array.from({ length: 32 }, (_, i) => (160 + i).toString(16).toUpperCase()).join(':'),
    certificatePem: `-----BEGIN CERTIFICATE-----\n${'MIIB'.repeat(16)}\n-----END CERTIFICATE-----\n`,
    thisComputerOnly: false,
  },
};

/**
 * The real dashboard server with real records, a real store and a real broker; only the collector's part is played
 * here, so that a test decides which readings exist.
 */
export interface WebFixture {
  url: string;
  setupToken: string | null;
  records: RecordStore;
  /** Location ids by "asset / location". */
  places: Record<string, number>;
  sensors: Record<string, SensorKey>;
  /** Puts readings into the store, as if measured earlier. */
  store(readings: Reading[], spectra?: BlockSpectrum[]): Promise<void>;
  /** Works out runs and days for trends now, which the server would do in a while. */
  workOut(): Promise<void>;
  publish(reading: Reading): Promise<void>;
  publishLive(block: LiveBlock): Promise<void>;
  publishHealth(health: NodeHealth): Promise<void>;
  publishTap(tap: Tap): Promise<void>;
  /** Nodes that the broker has not let in. */
  refused: { nodeId: string | null; address: string; attempts: number; lastMs: number }[];
  /** Stops the server and starts it again on the same port. */
  stopServer(): Promise<void>;
  startServer(): Promise<void>;
  close(): Promise<void>;
}

export async function startWebFixture(options: {
  scenario: boolean;
  /** Raw samples to look into, as the station's collector would have journaled them. */
  journalDir?: string;
  /** Since when the sensors sit where they are; two hours ago if left out. */
  mountedMs?: number;
  /** The server's clock; the real one if left out. */
  now?: () => number;
  /** Sites that share a database; none if left out. */
  fleet?: FleetReader | 'write-only';
  /** Its name, where it matters. */
  site?: string;
}): Promise<WebFixture> {
  const folder = await mkdtemp(join(tmpdir(), 'clampline-web-'));
  // A copy: a build beside this test run would pull the page away.
  const webRoot = join(folder, 'web');
  await cp(builtPage, webRoot, { recursive: true });
  const records = openRecordStore(join(folder, 'records.sqlite'), {
    passwordCost: { logN: 4, blockSize: 8, parallel: 1 },
  });
  const readingsFile = join(folder, 'readings.sqlite');
  const store = await openSqliteStore(readingsFile);
  const readings = openReadingReader(readingsFile);
  const broker = await Aedes.createBroker();
  const brokerServer = createServer(broker.handle);
  const brokerPort = await listen(brokerServer);

  const setupToken = options.scenario ? null : records.setup.issueToken();
  const { places, sensors } = options.scenario
    ? addScenario(records, options.mountedMs)
    : { places: {}, sensors: {} };
  if (options.scenario) {
    await records.people.create(PERSON.name, PERSON.password, 'shop');
    await records.people.create(TECHNICIAN.name, TECHNICIAN.password, 'technician');
  }
  const refused: WebFixture['refused'] = [];

  let port = 0;
  let running: Awaited<ReturnType<typeof createDashboard>> | null = null;
  async function startServer(): Promise<void> {
    running = await createDashboard(
      {
        port,
        webRoot,
        site: options.site ?? SITE,
        ...(options.journalDir === undefined ? {} : { journalDir: options.journalDir }),
        mqtt: { url: `mqtt://127.0.0.1:${brokerPort}`, username: 'dashboard', password: 'unused' },
      },
      {
        records,
        readings,
        zoneOf,
        analyse: analyseSpan,
        ...(options.now === undefined ? {} : { now: options.now }),
        ...(options.fleet === undefined ? {} : { fleet: options.fleet }),
        health: () => ({
          ok: true,
          journal: { bytes: 1_240_000_000, freeBytes: 48_000_000_000, waiting: false },
          collector: { lagMs: 420, lastReadingMs: Date.now() },
          counters: { packetsAccepted: 18_204, packetsRefusedChecksum: 2 },
        }),
        station: () => STATION,
        refusedLogins: () => refused,
        startDemo: async () => void addScenario(records),
        demoRunning: () => !options.scenario && records.assets.list().length > 0,
        log: { info() {}, warn() {}, error: console.error },
        limits: { loginsPerMinute: 1000 },
      },
    );
    port = Number(new URL(running.url).port);
  }
  async function stopServer(): Promise<void> {
    await running?.close();
    running = null;
  }
  await startServer();

  const send = (topic: string, message: unknown, retain: boolean) =>
    new Promise<void>((resolve, reject) =>
      broker.publish(
        { cmd: 'publish', topic, payload: JSON.stringify(message), qos: 0, retain, dup: false },
        (error) => (error ? reject(error) : resolve()),
      ),
    );
  return {
    url: `http://127.0.0.1:${port}`,
    setupToken,
    records,
    places,
    sensors,
    store: (earlier, spectra) => store.commit(earlier, 0, undefined, spectra),
    async workOut() {
      const log = { info() {}, warn() {}, error: console.error };
      const schedule = createEvaluationSchedule({ records, readings }, log, options.now ?? Date.now);
      // Every machine's location has its turn.
      for (let round = 0; round < 40; round++) await schedule.tick();
      await schedule.close();
    },
    publish: (reading) => send(readingTopic(SITE, reading.nodeId, reading.sensor), reading, true),
    publishLive: (block) => send(liveTopic(SITE, block.nodeId, block.sensor), block, false),
    publishHealth: (health) => send(healthTopic(SITE, health.nodeId), health, true),
    publishTap: (tap) => send(tapTopic(SITE, tap.nodeId), tap, false),
    refused,
    stopServer,
    startServer,
    async close() {
      await stopServer();
      await new Promise<void>((resolve) => broker.close(() => resolve()));
      await new Promise((resolve) => brokerServer.close(resolve));
      records.close();
      await readings.close();
      await store.close();
      await rm(folder, { recursive: true, force: true });
    },
  };
}

function listen(server: ReturnType<typeof createServer>): Promise<number> {
  return new Promise((resolve) =>
    server.listen(0, '127.0.0.1', () => resolve((server.address() as { port: number }).port)),
  );
}

const SCENARIO = [
  {
    asset: { name: 'Bus 1', kind: 'vehicle', machineClass: 'II' },
    locations: ['Gearbox / Output bearing', 'Rear axle / Pinion bearing', 'Rear axle / Left wheel bearing'],
  },
  {
    asset: { name: 'Bus 2', kind: 'vehicle', machineClass: 'II' },
    locations: ['Gearbox / Output bearing', 'Rear axle / Pinion bearing'],
  },
  {
    asset: { name: 'Extraction fan', kind: 'machine', machineClass: 'I' },
    locations: ['Motor / Drive end', 'Motor / Fan end'],
  },
] as const;

/** Assets, locations and mounted sensors; the last location stays without a sensor. */
function addScenario(
  records: RecordStore,
  mountedMs = Date.now() - 2 * 3_600_000,
): Pick<WebFixture, 'places' | 'sensors'> {
  const places: Record<string, number> = {};
  const sensors: Record<string, SensorKey> = {};
  SCENARIO.forEach(({ asset, locations }, number) => {
    const { id } = records.assets.add(asset);
    const nodeId = `c1a00000000000${number}a`.slice(0, 16);
    records.nodes.add(nodeId, `${asset.name} board`);
    locations.forEach((text, sensor) => {
      const [component, name] = text.split(' / ') as [string, string];
      const place = records.assets.addLocation(id, { name, component });
      places[`${asset.name} / ${name}`] = place.id;
      if (name === 'Fan end') return;
      sensors[`${asset.name} / ${name}`] = { nodeId, sensor };
      records.mounts.put(place.id, { nodeId, sensor }, mountedMs);
    });
  });
  return { places, sensors };
}

/** A reading whose highest axis has the given velocity; the rest follows in fixed ratios. */
export function readingOf(
  key: SensorKey,
  startMs: number,
  velocityRmsMmPerS: number | null,
  flags: Flag[] = [],
): Reading {
  const axis = (name: AxisValues['axis'], share: number): AxisValues => ({
    axis: name,
    velocityRmsMmPerS: velocityRmsMmPerS === null ? null : velocityRmsMmPerS * share,
    accelerationRmsMPerS2: (velocityRmsMmPerS ?? 1) * share * 1.37,
    accelerationPeakMPerS2: (velocityRmsMmPerS ?? 1) * share * 5.31,
    crestFactor: 3.876,
    kurtosis: 3.12,
  });
  return {
    ...key,
    startMs,
    durationS: 1,
    sampleRateHz: 3199.4,
    bandHz: [10, 1000],
    axes: [axis('x', 0.55), axis('y', 0.71), axis('z', 1)],
    flags,
  };
}

/** Two tones of fixed shape, 24 and 311 Hz, on all three axes; all levels scale with `strength`. */
export function liveOf(key: SensorKey, startMs: number, strength = 1): LiveBlock {
  const tone = (t: number, share: number) =>
    share * (2.1 * Math.sin(2 * Math.PI * 24 * t) + 0.9 * Math.sin(2 * Math.PI * 311 * t) * Math.sin(9 * t));
  const axis = (name: AxisValues['axis'], share: number) => ({
    axis: name,
    waveformMPerS2: Array.from({ length: 1024 }, (_, i) => tone(i / 1024, share)),
    spectrumMPerS2: Array.from({ length: 800 }, (_, i) => {
      const hz = i * 2;
      const peak = (at: number, height: number) => height * Math.exp(-(((hz - at) / 3) ** 2));
      return share * (peak(24, 1.48) + peak(311, 0.5) + 0.01 + 0.004 * Math.abs(Math.sin(i * 12.9)));
    }),
  });
  return {
    ...key,
    startMs,
    sampleRateHz: 3199.4,
    axes: [axis('x', 0.55 * strength), axis('y', 0.71 * strength), axis('z', strength)],
    spectrumStepHz: 2,
  };
}
