import { randomInt } from 'node:crypto';
import { performance } from 'node:perf_hooks';
import { setTimeout as sleep } from 'node:timers/promises';
import { connectAsync, type MqttClient } from 'mqtt';
import {
  CaptureMode,
  encodeSamplePacket,
  MAX_PACKET_BYTES,
  nodeTopic,
  type SamplePacket,
  TimeSource,
} from '../../firmware-protocol/index.ts';
import type { SampleSource } from './sample-source.ts';

export interface NodeIdentity {
  site: string;
  nodeId: string;
  password: string;
}

/** How a virtual node relates its samples to time. */
export type Pace =
  /** Like a board: its own clock, counting from its start, wrong by a little. */
  | { kind: 'live'; clockErrorPpm: number; rateErrorPct: number }
  /** A recording: sample 0 was taken at `startMs`; played `speed` times as fast as it was recorded. */
  | { kind: 'replay'; startMs: number; speed: number };

export interface VirtualNodeOptions {
  mqttUrl: string;
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

const PACKETS_PER_S = 8;
/** Packets kept while the station does not acknowledge: about a minute; after that new ones are dropped. */
const QUEUE_PACKETS = 60 * PACKETS_PER_S;

/** A sensor node in software: the real packets over real MQTT, from generated or recorded samples. */
export async function startVirtualNode(options: VirtualNodeOptions): Promise<VirtualNode> {
  const { identity, source, pace } = options;
  const client = await connectAsync(options.mqttUrl, {
    clientId: identity.nodeId,
    username: identity.nodeId,
    password: identity.password,
    protocolVersion: 4,
    ...(options.ca === undefined ? {} : { ca: options.ca }),
  });
  const stopping = new AbortController();
  const sender = new Sender(client, nodeTopic({ ...identity, kind: 'samples' }), options.onDropped);
  const done = run(source, pace, identity.nodeId, sender, stopping.signal).finally(() => client.endAsync());
  return {
    done,
    async stop() {
      stopping.abort();
      await done;
    },
  };
}

async function run(
  source: SampleSource,
  pace: Pace,
  nodeId: string,
  sender: Sender,
  signal: AbortSignal,
): Promise<void> {
  const clock = pace.kind === 'live' ? boardClock(source, pace) : recordingClock(source, pace);
  const wanted = Math.ceil(source.sampleRateHz / PACKETS_PER_S);
  const frames = Math.min(wanted, Math.floor((MAX_PACKET_BYTES - 256) / (2 * source.channels.length)), 8192);
  const bootId = randomInt(2 ** 32);
  let counter = 0;
  for (let sequence = 0; !signal.aborted; sequence++) {
    const samples = await source.next(frames);
    if (samples === null) break;
    const length = samples[0]!.length;
    await sleep(clock.waitMs(counter + length), undefined, { signal }).catch(() => undefined);
    if (signal.aborted) break;
    const packet: SamplePacket = {
      nodeId,
      bootId,
      sequence,
      firstSample: BigInt(counter),
      nodeClockUs: clock.atUs(counter),
      timeSource: clock.timeSource,
      captureMode: CaptureMode.Continuous,
      nominalRateHz: source.sampleRateHz,
      fullScaleMPerS2: source.fullScaleMPerS2,
      flags: 0,
      channels: source.channels,
      samples,
    };
    await sender.send(encodeSamplePacket(packet), pace.kind === 'replay');
    counter += length;
  }
  if (!signal.aborted) await sender.idle();
}

/** When samples are due, and what the node's clock says of them. */
interface NodeClock {
  timeSource: TimeSource;
  atUs(counter: number): bigint;
  waitMs(counter: number): number;
}

function boardClock(source: SampleSource, pace: { clockErrorPpm: number; rateErrorPct: number }): NodeClock {
  const bootMs = performance.now();
  const trueRateHz = source.sampleRateHz * (1 + pace.rateErrorPct / 100);
  const clockFactor = 1 + pace.clockErrorPpm * 1e-6;
  return {
    timeSource: TimeSource.Free,
    atUs: (counter) => BigInt(Math.round((counter / trueRateHz) * 1e6 * clockFactor)),
    waitMs: (counter) => Math.max(0, bootMs + (counter / trueRateHz) * 1e3 - performance.now()),
  };
}

function recordingClock(source: SampleSource, pace: { startMs: number; speed: number }): NodeClock {
  const begunMs = performance.now();
  const ms = (counter: number) => (counter / source.sampleRateHz) * 1e3;
  return {
    timeSource: TimeSource.Replay,
    atUs: (counter) => BigInt(Math.round((pace.startMs + ms(counter)) * 1e3)),
    waitMs: (counter) => Math.max(0, begunMs + ms(counter) / pace.speed - performance.now()),
  };
}

/** Publishes with QoS 1 and keeps count of what the station has not acknowledged yet. */
class Sender {
  private waiting = 0;
  private dropped = 0;
  private readonly client: MqttClient;
  private readonly topic: string;
  private readonly onDropped: ((packets: number) => void) | undefined;
  private wake: (() => void) | null = null;

  constructor(client: MqttClient, topic: string, onDropped: ((packets: number) => void) | undefined) {
    this.client = client;
    this.topic = topic;
    this.onDropped = onDropped;
  }

  /** A recording waits for room; a live node has nowhere to keep more and drops. */
  async send(bytes: Uint8Array, waitForRoom: boolean): Promise<void> {
    while (waitForRoom && this.waiting >= QUEUE_PACKETS) await this.change();
    if (this.waiting >= QUEUE_PACKETS) {
      this.onDropped?.(++this.dropped);
      return;
    }
    this.waiting++;
    const settled = () => {
      this.waiting--;
      this.wake?.();
    };
    this.client.publishAsync(this.topic, Buffer.from(bytes), { qos: 1 }).then(settled, settled);
  }

  async idle(): Promise<void> {
    while (this.waiting > 0) await this.change();
  }

  private change(): Promise<void> {
    return new Promise((resolve) => {
      this.wake = resolve;
    });
  }
}
