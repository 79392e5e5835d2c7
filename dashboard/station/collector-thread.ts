/** The collector in a worker thread: see `startCollectorThread`. */
import { parentPort, workerData } from 'node:worker_threads';
import { type CollectorConfig, createCollector } from '../../collector/index.ts';
import { openLevelList } from './level-list.ts';
import { createLog } from './log.ts';
import { openMountLookup } from './mount-lookup.ts';
import { openPlaceList } from './place-list.ts';

const { config, recordsFile } = workerData as { config: CollectorConfig; recordsFile: string };
const mounts = openMountLookup(recordsFile);
const places = openPlaceList(recordsFile);
const levels = openLevelList(recordsFile);
const collector = await createCollector(config, {
  log: createLog('collector'),
  mountOf: mounts.find,
  places: places.list,
  levels,
});
parentPort?.on('message', async () => {
  await collector.close();
  mounts.close();
  places.close();
  levels.close();
  parentPort?.close();
});
parentPort?.postMessage('ready');
const failure = await collector.stopped;
if (failure !== null) throw failure;
