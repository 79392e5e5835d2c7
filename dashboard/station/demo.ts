import { once } from 'node:events';
import { Worker } from 'node:worker_threads';
import type { RecordStore } from '../server/index.ts';
import { type DemoWorkerData, demoAssets, historyBegin } from '../virtual/index.ts';
import { fillDemoHistory } from './demo-history.ts';
import { demoTrain } from './demo-trains.ts';
import type { Log } from './log.ts';

/** How the station's own virtual nodes reach its broker. */
export interface NodeConnection {
  mqttUrl: string;
  ca?: string;
  site: string;
}

const boards = () => demoAssets().flatMap((asset) => asset.boards);

/** The demo has been chosen on this station: its nodes are known and not revoked. */
export function demoChosen(records: RecordStore): boolean {
  const known = new Set(records.nodes.list().map((node) => node.nodeId));
  return boards().some((board) => known.has(board.nodeId));
}

export interface RunningDemo {
  /** Share of the demo's past that is filled in, 0 to 1. */
  historyShare(): number;
  stop(): Promise<void>;
}

/** Makes the demo's assets once, lets its virtual nodes in, starts them, and has their past filled in behind. */
export async function startDemo(
  records: RecordStore,
  connection: NodeConnection,
  log: Log,
  nowMs = Date.now(),
): Promise<RunningDemo> {
  const fresh = !demoChosen(records);
  const passwords = Object.fromEntries(
    boards().map((board) => [board.nodeId, freshPassword(records, board.nodeId, board.label)]),
  );
  if (fresh) {
    const beginMs = historyBegin(nowMs);
    addDemoAssets(records, beginMs);
    records.demoHistory.write({ beginMs, sent: 0 });
  }

  const workerData: DemoWorkerData = { ...connection, passwords };
  const worker = new Worker(new URL('../virtual/demo/worker.js', import.meta.url), {
    workerData,
    // Samples are short-lived: a small nursery keeps the demo from looking like a heavy station.
    resourceLimits: { maxYoungGenerationSizeMb: 8 },
  });
  worker.on('error', (error) => log.error(`the demo's virtual nodes stopped: ${error.message}`));
  worker.on('message', (message: { nodeId?: string; dropped?: number }) => {
    if (message.dropped === 1)
      log.warn(`virtual node ${message.nodeId} drops packets: the station does not take them`);
  });
  await Promise.race([once(worker, 'message'), once(worker, 'exit')]);
  log.info(`demo: ${boards().length} virtual nodes are publishing`);
  const history = fillDemoHistory(records, connection, passwords, log);
  return {
    historyShare: () => history?.share() ?? 1,
    async stop() {
      await history?.close();
      const ended = once(worker, 'exit');
      worker.postMessage('stop');
      await ended;
    },
  };
}

function addDemoAssets(records: RecordStore, mountedMs: number): void {
  for (const { name, kind, machineClass, boards } of demoAssets()) {
    const asset = records.assets.add({ name, kind, machineClass });
    const idOf = new Map<string, number>();
    for (const { nodeId, locations } of boards) {
      for (const [sensor, location] of locations.entries()) {
        const { id } = records.assets.addLocation(asset.id, location);
        idOf.set(location.name, id);
        records.mounts.put(id, { nodeId, sensor }, mountedMs);
      }
    }
    records.driveTrains.put(asset.id, demoTrain(kind, idOf));
  }
}

/** Passwords are kept only as hashes, so a virtual node gets a new one at each start. */
export function freshPassword(records: RecordStore, nodeId: string, label: string): string {
  if (records.nodes.list().some((node) => node.nodeId === nodeId)) records.nodes.revoke(nodeId);
  return records.nodes.add(nodeId, label);
}
