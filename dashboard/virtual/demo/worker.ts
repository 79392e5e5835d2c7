/** Runs the demo's virtual nodes in a thread of their own: making the samples must not slow the station. */
import { parentPort, workerData } from 'node:worker_threads';
import { boardSource } from '../synth/board.ts';
import { startVirtualNode, type VirtualNode } from '../virtual-node.ts';
import { demoAssets } from './scenario.ts';

export interface DemoWorkerData {
  mqttUrl: string;
  ca?: string;
  site: string;
  /** Node id -> password. */
  passwords: Record<string, string>;
}

const { passwords, site, ...connection } = workerData as DemoWorkerData;
const boards = demoAssets().flatMap((asset) => asset.boards);
const nodes: VirtualNode[] = [];

for (const [index, board] of boards.entries()) {
  const password = passwords[board.nodeId];
  if (password === undefined) continue;
  nodes.push(
    await startVirtualNode({
      ...connection,
      identity: { site, nodeId: board.nodeId, password },
      source: boardSource(board.model, Date.now() / 1e3),
      // Oscillators of cheap boards: the sensor's is off by per cents, the controller's by parts in a million.
      pace: { kind: 'live', clockErrorPpm: 12 * (index - 3), rateErrorPct: 0.6 * (index - 3) },
      onDropped: (packets) => parentPort?.postMessage({ nodeId: board.nodeId, dropped: packets }),
    }),
  );
}

parentPort?.on('message', async () => {
  await Promise.all(nodes.map((node) => node.stop()));
  parentPort?.close();
});
parentPort?.postMessage({ started: nodes.length });
