/** The whole station in one process: what `npm start` runs. */
import { openRecordStore } from '../server/index.ts';
import { takeDataFolder } from './data-folder.ts';
import { demoChosen, type NodeConnection, type RunningDemo, startDemo } from './demo.ts';
import { stationHealth } from './health.ts';
import { createLog } from './log.ts';
import { collectorConfig, startBroker, startCollectorThread, startDashboard } from './parts.ts';
import { type ReplayOptions, startReplay } from './replay.ts';
import {
  announce,
  brokerAddress,
  checkListen,
  networkPlaces,
  setupLink,
  untilToldToStop,
} from './running.ts';
import { sayPage } from './running-page.ts';
import { serviceKeys } from './service-keys.ts';
import { dataPaths, type Settings } from './settings.ts';
import { stationAddress } from './station-address.ts';
import { loadTls } from './tls.ts';

export interface StartOptions extends Partial<ReplayOptions> {
  demo?: boolean;
}

/** Starts everything, waits to be told to stop, and closes in reverse order. */
export async function startStation(settings: Settings, options: StartOptions): Promise<void> {
  const closers: (() => unknown)[] = [];
  try {
    await openStation(settings, options, closers);
    await untilToldToStop();
  } finally {
    for (const close of closers.reverse()) await close();
  }
}

async function openStation(
  settings: Settings,
  options: StartOptions,
  closers: (() => unknown)[],
): Promise<void> {
  const log = createLog('station');
  checkListen(settings);
  const paths = dataPaths(settings.dataDir);
  // All of them: a part started beside it would do its work a second time.
  for (const part of ['station', 'broker', 'collector', 'dashboard']) {
    closers.push(takeDataFolder(settings.dataDir, part));
  }
  const keys = serviceKeys(paths.serviceKeys);
  const tls = await loadTls(settings.tls, paths.tls);

  const records = openRecordStore(paths.records);
  closers.push(() => records.close());
  const stream = await startBroker(settings, keys, tls);
  closers.push(stream.close);
  const address = brokerAddress(settings, stream.broker.port, tls);
  const failed = (error: Error) => {
    // Samples are safe in the journal, but nothing measures them any more: better to end and be started again.
    log.error(`the collector stopped: ${error.message}`);
    process.exitCode = 1;
    process.kill(process.pid, 'SIGTERM');
  };
  closers.push(await startCollectorThread(collectorConfig(settings, keys, address), paths.records, failed));

  const connection: NodeConnection = { ...address, site: settings.site };
  let demo: Promise<RunningDemo> | null = null;
  let runningDemo: RunningDemo | null = null;
  const startDemoOnce = async () => {
    demo ??= startDemo(records, connection, log);
    runningDemo = await demo;
  };
  closers.push(async () => (await demo)?.stop());

  const { dashboard, close: closeDashboard } = await startDashboard(settings, keys, address, tls, {
    records,
    health: () => stationHealth(paths.journal, stream),
    station: () => stationAddress(settings, stream.broker.port, tls),
    disconnectNode: (nodeId) => void stream.broker.disconnect(nodeId),
    refusedLogins: () => stream.broker.refusedLogins(),
    startDemo: startDemoOnce,
    demoRunning: () => demo !== null,
    demoHistoryShare: () => runningDemo?.historyShare() ?? 1,
  });
  closers.push(closeDashboard);
  closers.push(sayPage(settings.dataDir, dashboard.url));

  if (options.demo || demoChosen(records)) await startDemoOnce();
  if (options.replay !== undefined) {
    const replay = await startReplay(records, connection, withReplay(options, options.replay), log);
    closers.push(() => replay.stop());
  }
  announce({
    page: dashboard.url,
    ...networkPlaces(settings, dashboard.url),
    nodes: address.mqttUrl,
    setup: setupLink(records, dashboard.url),
  });
}

function withReplay(options: StartOptions, replay: string): ReplayOptions {
  const { fullScale, unit = 'g', replaySpeed = '1' } = options;
  return { replay, unit, replaySpeed, ...(fullScale === undefined ? {} : { fullScale }) };
}
