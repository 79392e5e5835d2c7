/** Puts each part together from the settings; used by the one-process station and by the parts run apart. */
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import {
  type Bridge,
  type Broker,
  createBroker,
  type JournalWriter,
  openJournalWriter,
  type RefusedLogin,
} from '../../broker/index.ts';
import {
  alertPointWriter,
  type CollectorConfig,
  type FleetReader,
  openFleetReader,
  openStationReader,
  type StoreChoice,
  zoneOf,
} from '../../collector/index.ts';
import type { Health } from '../contract/http.ts';
import type { StationAddress } from '../contract/rig.ts';
import { createDashboard, type Dashboard, openNodeCredentials, type RecordStore } from '../server/index.ts';
import { startAnalysisThread } from './analysis.ts';
import { createThreadAnalyst } from './analyst.ts';
import { startBridge } from './bridge.ts';
import { brokerState } from './health.ts';
import { createLog } from './log.ts';
import { cutOffRevokedNodes } from './revoked-nodes.ts';
import { alertsKey, type ServiceKeys, vehicleKey } from './service-keys.ts';
import { dataPaths, type Settings } from './settings.ts';
import type { TlsFiles } from './tls.ts';

const DAY_MS = 86_400_000;

export interface BrokerPart {
  broker: Broker;
  journal: JournalWriter;
  /** To another broker; null without one. */
  bridge: Bridge | null;
  close(): Promise<void>;
}

export async function startBroker(
  settings: Settings,
  keys: ServiceKeys,
  tls: TlsFiles | null,
): Promise<BrokerPart> {
  const log = createLog('broker');
  const paths = dataPaths(settings.dataDir);
  const journal = await openJournalWriter(paths.journal, log, {
    retention: { maxBytes: settings.journalMaxBytes, maxAgeMs: settings.journalMaxAgeDays * DAY_MS },
  });
  const credentials = openNodeCredentials(paths.records, {
    ...keys,
    vehicle: vehicleKey(keys),
    alerts: alertsKey(keys),
  });
  let started: Broker | null = null;
  let bridge: Bridge | null = null;
  try {
    const broker = await createBroker(
      {
        host: settings.listen,
        port: settings.mqttPort,
        site: settings.site,
        ...(tls === null ? {} : { tls }),
      },
      {
        credentials,
        journal,
        log,
        heardService: (topic, payload) => bridge?.pass(topic, payload),
        state: () => brokerState({ broker, journal, bridge }),
      },
    );
    started = broker;
    bridge = await startBridge(settings, journal, log, broker.tell);
    const stopLooking = cutOffRevokedNodes(broker, credentials);
    return {
      broker,
      journal,
      bridge,
      async close() {
        stopLooking();
        await bridge?.close();
        await broker.close();
        await journal.close();
        credentials.close();
      },
    };
  } catch (error) {
    await started?.close();
    await journal.close();
    credentials.close();
    throw error;
  }
}

/** How a part of the station reaches the broker. */
export interface BrokerAddress {
  mqttUrl: string;
  ca?: string;
}

function storeChoice({ influx }: Settings): StoreChoice {
  return influx === null ? { kind: 'sqlite' } : { kind: 'influx', ...influx };
}

/** Every site that writes to the database of this one; empty without one. */
function fleetOf({ influx }: Settings): { fleet?: FleetReader | 'write-only' } {
  if (influx === null) return {};
  return { fleet: influx.writeOnly ? 'write-only' : openFleetReader(influx) };
}

export function collectorConfig(
  settings: Settings,
  keys: ServiceKeys,
  address: BrokerAddress,
): CollectorConfig {
  const paths = dataPaths(settings.dataDir);
  return {
    journalDir: paths.journal,
    readingsFile: paths.readings,
    site: settings.site,
    store: storeChoice(settings),
    retention: { maxBytes: settings.readingsMaxBytes },
    mqtt: {
      url: address.mqttUrl,
      username: 'collector',
      password: keys.collector,
      ...(address.ca ? { ca: address.ca } : {}),
    },
  };
}

/** Runs the collector in a thread of its own, so that measuring never holds up acknowledgements or the page. */
export async function startCollectorThread(
  config: CollectorConfig,
  recordsFile: string,
  failed: (error: Error) => void,
): Promise<() => Promise<void>> {
  const worker = new Worker(new URL('./collector-thread.js', import.meta.url), {
    workerData: { config, recordsFile },
    // Packets and blocks live for a moment: collecting them often costs little and keeps the station small.
    resourceLimits: { maxYoungGenerationSizeMb: 16 },
  });
  const [first] = await Promise.race([once(worker, 'message'), once(worker, 'error')]);
  if (first instanceof Error) throw first;
  worker.on('error', failed);
  return async () => {
    const ended = once(worker, 'exit');
    worker.postMessage('stop');
    await ended;
  };
}

export interface DashboardPartDeps {
  records: RecordStore;
  health(): Health;
  station(): StationAddress;
  disconnectNode?: (nodeId: string) => void;
  refusedLogins?: () => RefusedLogin[];
  startDemo?: () => Promise<void>;
  demoRunning?: () => boolean;
  demoHistoryShare?: () => number;
}

export async function startDashboard(
  settings: Settings,
  keys: ServiceKeys,
  address: BrokerAddress,
  tls: TlsFiles | null,
  deps: DashboardPartDeps,
): Promise<{ dashboard: Dashboard; close(): Promise<void> }> {
  const readings = openStationReader(
    { store: storeChoice(settings), readingsFile: dataPaths(settings.dataDir).readings, site: settings.site },
    { log: createLog('dashboard') },
  );
  const analysis = startAnalysisThread();
  const analyst = createThreadAnalyst();
  try {
    const dashboard = await createDashboard(
      {
        host: settings.listen,
        port: settings.httpPort,
        webRoot: fileURLToPath(new URL('../web', import.meta.url)),
        site: settings.site,
        journalDir: dataPaths(settings.dataDir).journal,
        recordingsDir: dataPaths(settings.dataDir).recordings,
        vehiclePassword: vehicleKey(keys),
        alertsPassword: alertsKey(keys),
        alerts: settings.alerts,
        mqtt: {
          url: address.mqttUrl,
          username: 'dashboard',
          password: keys.dashboard,
          ...(address.ca ? { ca: address.ca } : {}),
        },
        ...(tls === null ? {} : { tls }),
      },
      {
        ...deps,
        ...fleetOf(settings),
        ...(settings.influx === null
          ? {}
          : { writeAlertPoints: alertPointWriter(settings.influx, settings.site) }),
        readings,
        zoneOf,
        analyst,
        analyse: analysis.analyse,
        log: createLog('dashboard'),
      },
    );
    return {
      dashboard,
      async close() {
        await dashboard.close();
        await analysis.close();
        await analyst.close();
        await readings.close();
      },
    };
  } catch (error) {
    await readings.close();
    throw error;
  }
}
