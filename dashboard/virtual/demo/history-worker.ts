/** Sends the demo's past captures, one after the other, in a thread of its own and with pauses for the others. */
import { performance } from 'node:perf_hooks';
import { setTimeout as sleep } from 'node:timers/promises';
import { parentPort, workerData } from 'node:worker_threads';
import { connectPastSamples, type PastSamples } from '../past-samples.ts';
import { boardSource } from '../synth/board.ts';
import { demoHistory, type PastCapture } from './history.ts';
import type { DemoWorkerData } from './worker.ts';

export interface HistoryWorkerData extends DemoWorkerData {
  beginMs: number;
  /** Captures that were sent earlier. */
  skip: number;
}

export interface HistoryMessage extends Omit<PastCapture, 'boards'> {
  /** Captures sent so far, of how many. */
  done: number;
  of: number;
}

/** Pause after each capture, as a multiple of the time it took: the station has live samples to measure too. */
const PAUSE_SHARE = 1.5;

const { passwords, site, beginMs, skip, ...connection } = workerData as HistoryWorkerData;
const nodes = new Map<string, PastSamples>();
const captures = [...demoHistory(beginMs)];

async function nodeOf(nodeId: string): Promise<PastSamples> {
  const known = nodes.get(nodeId);
  if (known !== undefined) return known;
  const identity = { site, nodeId, password: passwords[nodeId]! };
  const made = await connectPastSamples({ ...connection, identity });
  nodes.set(nodeId, made);
  return made;
}

for (const [index, { boards, ...capture }] of captures.entries()) {
  if (index < skip) continue;
  const begunMs = performance.now();
  for (const { nodeId, model } of boards) {
    const node = await nodeOf(nodeId);
    await node.send(boardSource(model, capture.startMs / 1000), capture.startMs, capture.seconds);
  }
  const message: HistoryMessage = { ...capture, done: index + 1, of: captures.length };
  parentPort?.postMessage(message);
  await sleep(PAUSE_SHARE * (performance.now() - begunMs));
}
for (const node of nodes.values()) await node.close();
