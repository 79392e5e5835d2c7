import { randomInt } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import {
  CaptureMode,
  encodeSamplePacket,
  encodeStatus,
  MAX_FRAMES,
  MAX_SAMPLES,
  type NodeStatus,
  nodeTopic,
  offlineStatus,
} from '../../firmware-protocol/index.ts';
import { createNodeClock, type NodeClock, type Pace } from './node-clock.ts';
import type { SampleSource } from './sample-source.ts';
import { Sender } from './sender.ts';
import { keepTime } from './time-keeper.ts';

export interface NodeIdentity {
  site: string;
  nodeId: string;
  password: string;
}

export interface VirtualNodeOptions {
  mqttUrl: string;
  /** Certificate to trust, PEM, when the station has its own. */
  ca?: string;
  identity: NodeIdentity;
  source: SampleSource;
  pace: Pace;
  /** Called when packets had to be dropped because the station did not take them. */
  onDropped?: (packets: number) => void;
}

export interface VirtualNode {
  /** Settles when the source has ended and the station has acknowledged everything. */
  readonly done: Promise<void>;
  stop(): Promise<void>;
}

const STATUS_MS = 30_000;
const PACKETS_PER_S = 8;
/** Packets kept while the station does not acknowledge: about a minute; a live node then drops new ones. */
const QUEUE_PACKETS = 60 * PACKETS_PER_S;

/** A sensor node in software: the real packets over real MQTT, from generated or recorded samples. */
export async function startVirtualNode(options: VirtualNodeOptions): Promise<VirtualNode> {
  const { identity, source, pace } = options;
  const bootId = randomInt(2 ** 32);
  const header = { nodeId: identity.nodeId, bootId };
  const statusTopic = nodeTopic({ ...identity, kind: 'status' });
  const client = await connectAsync(options.mqttUrl, {
    clientId: identity.nodeId,
    username: identity.nodeId,
    password: identity.password,
    protocolVersion: 4,
    will: {
      topic: statusTopic,
      payload: Buffer.from(encodeStatus(offlineStatus(header))),
      qos: 1,
      retain: true,
    },
    ...(options.ca === undefined ? {} : { ca: options.ca }),
  });
  const clock = createNodeClock(source.sampleRateHz, pace);
  const sender = new Sender(client, nodeTopic({ ...identity, kind: 'samples' }), QUEUE_PACKETS);
  const stopping = new AbortController();
  const stopTime =
    pace.kind === 'live' ? await keepTime(client, { ...identity, bootId }, clock) : () => undefined;
  const progress = { nextSequence: 0 };
  const status = (): NodeStatus => ({
    ...samplingStatus(header, source, clock),
    nextSequence: progress.nextSequence,
    droppedPackets: sender.dropped,
    nextStatusWithinS: (2 * STATUS_MS) / 1000,
  });
  const say = async (change: Partial<NodeStatus> = {}) => {
    const bytes = Buffer.from(encodeStatus({ ...status(), ...change }));
    await client.publishAsync(statusTopic, bytes, { qos: 1, retain: true });
  };
  // One that the connection was lost over is followed by another.
  const sayAgain = () => void (client.connected && say().catch(() => undefined));
  const again = setInterval(sayAgain, STATUS_MS);
  await say();
  client.on('connect', sayAgain);

  const done = play(options, header, clock, { sender, progress }, stopping.signal).finally(async () => {
    stopTime();
    clearInterval(again);
    if (client.connected) await say({ state: 'stopped', nextStatusWithinS: null });
    await client.endAsync(!client.connected);
  });
  return {
    done,
    async stop() {
      stopping.abort();
      await done;
    },
  };
}

function samplingStatus(
  header: { nodeId: string; bootId: number },
  source: SampleSource,
  clock: NodeClock,
): NodeStatus {
  return {
    ...offlineStatus(header),
    state: 'sampling',
    timeSource: clock.timeSource(),
    nodeClockUs: clock.nowUs(),
    nominalRateHz: source.sampleRateHz,
    fullScaleMPerS2: source.fullScaleMPerS2,
    firmwareVersion: 'virtual',
  };
}

async function play(
  { source, pace, onDropped }: VirtualNodeOptions,
  header: { nodeId: string; bootId: number },
  clock: NodeClock,
  { sender, progress }: { sender: Sender; progress: { nextSequence: number } },
  signal: AbortSignal,
): Promise<void> {
  const perPacket = Math.ceil(source.sampleRateHz / PACKETS_PER_S);
  const frames = Math.min(perPacket, MAX_FRAMES, Math.floor(MAX_SAMPLES / source.channels.length));
  let counter = 0;
  for (let sequence = 0; !signal.aborted; sequence++) {
    const samples = await source.next(frames);
    if (samples === null) break;
    const length = samples[0]!.length;
    await sleep(clock.waitMs(counter + length), undefined, { signal }).catch(() => undefined);
    if (signal.aborted) return;
    if (pace.kind === 'replay') await sender.untilWaiting(QUEUE_PACKETS - 1);
    const packet = encodeSamplePacket({
      ...header,
      sequence,
      firstSample: BigInt(counter),
      nodeClockUs: clock.sampleAtUs(counter),
      timeSource: clock.timeSource(),
      captureMode: CaptureMode.Continuous,
      nominalRateHz: source.sampleRateHz,
      fullScaleMPerS2: source.fullScaleMPerS2,
      flags: 0,
      channels: source.channels,
      samples,
    });
    progress.nextSequence = sequence + 1;
    if (!sender.offer(packet)) onDropped?.(sender.dropped);
    counter += length;
  }
  if (!signal.aborted) await sender.untilWaiting(0);
}
