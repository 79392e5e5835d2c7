import { createPipeline } from '../../collector/pipeline/pipeline.ts';
import {
  CaptureMode,
  encodeSamplePacket,
  encodeTimeRequest,
  nodeTopic,
  TimeSource,
} from '../../firmware-protocol/index.ts';
import { gaussianNoise } from '../support/signals.ts';
import type { Measured } from './meter.ts';

const NODES = 60;
const RATE_HZ = 3200;
const FRAMES = 1600;
const START_US = 1_760_000_000_000_000;
const AXES = ['x', 'y', 'z'] as const;

const topicOf = (nodeId: string, kind: 'samples' | 'time') => nodeTopic({ site: 'depot', nodeId, kind });
const nodeName = (n: number) => n.toString(16).padStart(16, '0');

/** One second of all nodes: two packets each, true rate 1 % off nominal, as they lie in the journal. */
function secondOf(second: number, noise: Int16Array[]) {
  const records = [];
  for (let half = 0; half < 2; half++) {
    for (let n = 0; n < NODES; n++) {
      const sequence = second * 2 + half;
      const atUs = Math.round(((sequence * FRAMES) / (RATE_HZ * 1.01)) * 1e6);
      const payload = encodeSamplePacket({
        nodeId: nodeName(n),
        bootId: 1,
        sequence,
        firstSample: BigInt(sequence * FRAMES),
        nodeClockUs: BigInt(60_000_000 + atUs + ((n * 37 + sequence * 101) % 800)),
        timeSource: TimeSource.Synced,
        captureMode: CaptureMode.Continuous,
        nominalRateHz: RATE_HZ,
        fullScaleMPerS2: 160,
        flags: 0,
        channels: AXES.map((axis) => ({ sensor: 0, axis })),
        samples: AXES.map((_, i) => noise[(n + i + sequence) % noise.length]!),
      });
      records.push({
        topic: topicOf(nodeName(n), 'samples'),
        payload,
        arrivedAtUs: START_US + atUs + 600_000,
      });
    }
  }
  return records;
}

function exchange(n: number, at: number) {
  const payload = encodeTimeRequest({
    nodeId: nodeName(n),
    bootId: 1,
    t0Us: BigInt(50_000_000 + at * 1e6),
    previous: {
      t0Us: BigInt(50_000_000 + at * 1e6 - 1e6),
      t1Us: BigInt(START_US - 10_000_000 + at * 1e6 - 1e6 + 2000),
      t2Us: BigInt(START_US - 10_000_000 + at * 1e6 - 1e6 + 2500),
      t3Us: BigInt(50_000_000 + at * 1e6 - 1e6 + 4500),
    },
  });
  return { topic: topicOf(nodeName(n), 'time'), payload, arrivedAtUs: START_US - 10_000_000 + at * 1e6 };
}

/** How many nodes one core carries from packet bytes to readings: decode, timeline, meters, state to save. */
export async function bench(): Promise<Measured[]> {
  const noise = Array.from({ length: 9 }, (_, seed) =>
    Int16Array.from(gaussianNoise(seed + 1, 600, FRAMES), (v) => Math.round(v)),
  );
  const pipeline = createPipeline();
  let position = 0;
  let readings = 0;
  const accept = (record: { topic: string; payload: Uint8Array; arrivedAtUs: number }) => {
    readings += pipeline.accept({ ...record, position: position++ }).readings.length;
  };
  for (let n = 0; n < NODES; n++) for (let at = 1; at <= 8; at++) accept(exchange(n, at));
  const [warmUp, measured] = [10, 30];
  for (let second = 0; second < warmUp; second++) secondOf(second, noise).forEach(accept);
  pipeline.checkpoint();
  readings = 0;
  let usedUs = 0;
  let stateBytes = 0;
  for (let second = warmUp; second < warmUp + measured; second++) {
    const records = secondOf(second, noise);
    const before = process.cpuUsage();
    records.forEach(accept);
    const { set } = pipeline.checkpoint();
    const { user, system } = process.cpuUsage(before);
    usedUs += user + system;
    stateBytes = set.reduce((sum, [, json]) => sum + json.length, 0);
  }
  const nodeSeconds = (NODES * measured * FRAMES * 2) / (RATE_HZ * 1.01);
  if (readings < NODES * (measured - 1)) throw new Error(`${readings} readings`);
  return [
    {
      name: 'nodes of 3 axes x 3.2 kHz, packet to reading',
      value: (nodeSeconds * 1e6) / usedUs,
      unit: 'nodes per core',
    },
    { name: 'cost of one node', value: usedUs / 1000 / nodeSeconds, unit: 'ms per node-second' },
    { name: 'state saved each second', value: stateBytes / NODES, unit: 'bytes per node' },
    { name: 'memory', value: process.memoryUsage().rss / 2 ** 20, unit: 'MiB' },
  ];
}
