/** The parts as processes of their own; they meet in the data folder and at the broker. */
import { createCollector } from '../../collector/index.ts';
import { openRecordStore } from '../server/index.ts';
import { takeDataFolder, waitForDataFolder } from './data-folder.ts';
import { stationHealth } from './health.ts';
import { openLevelList } from './level-list.ts';
import { createLog } from './log.ts';
import { openMountLookup } from './mount-lookup.ts';
import { collectorConfig, startBroker, startDashboard } from './parts.ts';
import { openPlaceList } from './place-list.ts';
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

interface Foundation {
  keys: ReturnType<typeof serviceKeys>;
  tls: Awaited<ReturnType<typeof loadTls>>;
  release(): void;
}

/** What each part needs before it can start. */
async function prepare(
  settings: Settings,
  part: string,
  release = takeDataFolder(settings.dataDir, part),
): Promise<Foundation> {
  checkListen(settings);
  const paths = dataPaths(settings.dataDir);
  return { keys: serviceKeys(paths.serviceKeys), tls: await loadTls(settings.tls, paths.tls), release };
}

export async function runBroker(settings: Settings): Promise<void> {
  const { keys, tls, release } = await prepare(settings, 'broker');
  const part = await startBroker(settings, keys, tls);
  announce({ nodes: brokerAddress(settings, part.broker.port, tls).mqttUrl });
  await untilToldToStop();
  await part.close();
  release();
}

/** @param standby while another collector runs, waits to take its place */
export async function runCollector(settings: Settings, standby: boolean): Promise<void> {
  // Listened for from now on: told to stop between waiting and working, it must still stop.
  const stop = standby ? untilToldToStop() : null;
  const lock = stop === null ? undefined : await standBy(settings, stop);
  if (lock === null) return;
  const { keys, tls, release } = await prepare(settings, 'collector', lock);
  const address = brokerAddress(settings, settings.mqttPort, tls);
  const { records } = dataPaths(settings.dataDir);
  const collector = await createCollector(collectorConfig(settings, keys, address), {
    log: createLog('collector'),
    mountOf: openMountLookup(records).find,
    places: openPlaceList(records).list,
    levels: openLevelList(records),
  });
  announce({});
  const failure = await Promise.race([stop ?? untilToldToStop(), collector.stopped]);
  await collector.close();
  release();
  if (failure) throw failure;
}

/** The lock of the data folder once the other collector has ended; null when this one is told to stop before. */
async function standBy({ dataDir }: Settings, stop: Promise<void>): Promise<(() => void) | null> {
  console.log('Standing by: takes over when the collector that runs has ended.');
  const lock = await waitForDataFolder(dataDir, 'collector', stop);
  if (lock !== null) createLog('collector').info('takes over');
  return lock;
}

export async function runDashboard(settings: Settings): Promise<void> {
  const { keys, tls, release } = await prepare(settings, 'dashboard');
  const paths = dataPaths(settings.dataDir);
  const records = openRecordStore(paths.records);
  const health = () => stationHealth(paths.journal, null);
  const address = brokerAddress(settings, settings.mqttPort, tls);
  const station = () => stationAddress(settings, settings.mqttPort, tls);
  const part = await startDashboard(settings, keys, address, tls, { records, health, station });
  const unsay = sayPage(settings.dataDir, part.dashboard.url);
  announce({
    page: part.dashboard.url,
    ...networkPlaces(settings, part.dashboard.url),
    setup: setupLink(records, part.dashboard.url),
  });
  await untilToldToStop();
  unsay();
  await part.close();
  records.close();
  release();
}
