import { once } from 'node:events';
import { Worker } from 'node:worker_threads';
import type { RecordStore } from '../server/index.ts';
import type { HistoryMessage, HistoryWorkerData } from '../virtual/index.ts';
import type { NodeConnection } from './demo.ts';
import type { Log } from './log.ts';

/** Twenty weeks of the demo, filled in behind the live levels. */
export interface DemoHistory {
  /** Share that is filled in, 0 to 1. */
  share(): number;
  close(): Promise<void>;
}

/** Who made the demo's runs. */
const OPERATOR = 'Demo';

/**
 * Lets virtual nodes send what they captured in the past, and enters a run for each drive as a person would. What was
 * sent before a stop is not sent again. Null for a demo that was set up without a past.
 */
export function fillDemoHistory(
  records: RecordStore,
  connection: NodeConnection,
  passwords: Record<string, string>,
  log: Log,
): DemoHistory | null {
  const begun = records.demoHistory.read();
  if (begun === null) return null;
  const { beginMs, sent } = begun;
  const workerData: HistoryWorkerData = { ...connection, passwords, beginMs, skip: sent };
  let share = 0;
  const worker = new Worker(new URL('../virtual/demo/history-worker.js', import.meta.url), {
    workerData,
    resourceLimits: { maxYoungGenerationSizeMb: 8 },
  });
  const ended = once(worker, 'exit');
  const names = new Map(records.assets.list().map(({ name, id }) => [name, id]));
  worker.on('error', (error) => log.error(`the demo's history could not be filled in: ${error.message}`));
  worker.on('message', (message: HistoryMessage) => {
    const { done, of } = message;
    const before = share;
    share = done / of;
    try {
      addRun(records, names.get(message.assetName), message);
      records.demoHistory.write({ beginMs, sent: done });
    } catch (error) {
      // The vehicle may have been deleted meanwhile: the rest of the history is none the worse.
      log.warn(`demo history: ${(error as Error).message}`);
    }
    const quarter = Math.floor(share * 4);
    if (quarter > Math.floor(before * 4))
      log.info(`demo: ${25 * quarter} % of twenty weeks of history are in`);
  });
  ended.then(
    () => {
      share = 1;
    },
    () => undefined,
  );
  return {
    share: () => share,
    async close() {
      await worker.terminate();
    },
  };
}

function addRun(records: RecordStore, assetId: number | undefined, past: HistoryMessage): void {
  const { drive, startMs, seconds } = past;
  if (drive === null || assetId === undefined) return;
  const run = records.runs.addPast(
    {
      assetId,
      kind: 'road',
      notes: `Steady ${Math.round(drive.speedKmH)} km/h on the way to the depot.`,
    },
    OPERATOR,
    startMs,
    startMs + seconds * 1000,
  );
  const values = [];
  for (let second = 0; second <= seconds; second++) {
    const atMs = startMs + second * 1000;
    // A vehicle says whole km/h.
    values.push({ quantity: 'roadSpeedKmH' as const, atMs, value: Math.round(drive.speedKmH) });
    values.push({ quantity: 'engineLoadPercent' as const, atMs, value: Math.round(100 * drive.load) });
    values.push({ quantity: 'engineSpeedRpm' as const, atMs, value: Math.round(drive.engineRpm) });
    values.push({ quantity: 'gear' as const, atMs, value: drive.gear });
  }
  records.vehicleValues.add(run.id, values);
}
