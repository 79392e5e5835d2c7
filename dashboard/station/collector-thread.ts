/** The collector in a worker thread: see `startCollectorThread`. */
import { parentPort, workerData } from 'node:worker_threads';
import { type CollectorConfig, createCollector } from '../../collector/index.ts';
import { createLog } from './log.ts';

const collector = await createCollector(workerData as CollectorConfig, { log: createLog('collector') });
parentPort?.on('message', async () => {
  await collector.close();
  parentPort?.close();
});
parentPort?.postMessage('ready');
const failure = await collector.stopped;
if (failure !== null) throw failure;
