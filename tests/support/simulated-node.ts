import {
  CaptureMode,
  type ChannelLayout,
  encodeSamplePacket,
  encodeTimeRequest,
  nodeTopic,
  TimeSource,
} from '../../firmware-protocol/index.ts';

/** A journal record before it has a position. */
export interface SentMessage {
  topic: string;
  payload: Uint8Array;
  arrivedAtUs: number;
}

export interface SimulatedNodeOptions {
  nodeId?: string;
  bootId?: number;
  /** Real time at counter 0, Unix seconds. */
  startS?: number;
  nominalRateHz?: number;
  /** True rate as a factor of nominal; a function of seconds since the start lets it drift. */
  rateFactor?: number | ((sinceStartS: number) => number);
  /** Error of the node's clock crystal, parts per million. */
  clockPpm?: number;
  /** The clock is read up to so many µs late. */
  jitterUs?: number;
  framesPerPacket?: number;
  replay?: boolean;
  channels?: ChannelLayout[];
  fullScaleMPerS2?: number;
  /** Acceleration at a real time (Unix seconds) of a channel; default: a tone whose level belongs to the second. */
  signal?(unixS: number, channel: number): number;
  random?(): number;
}

const SITE = 'depot';

/** Amplitude, m/s², that belongs to a Unix second: neighbours differ by a factor of 1.3 or more. */
export function amplitudeOf(second: number): number {
  return [1, 2, 3, 1.5, 4, 2.5, 1.2][((second % 7) + 7) % 7]!;
}

/** 80 Hz (whole cycles in each second), at the level of its second. */
function levelBySecond(unixS: number): number {
  const second = Math.floor(unixS);
  return amplitudeOf(second) * Math.sin(2 * Math.PI * 80 * (unixS - second));
}

/** Small seeded generator (mulberry32): the same numbers in every run. */
export function seeded(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), state | 1);
    t = (t + Math.imul(t ^ (t >>> 7), t | 61)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

/** A node as physics has it: samples are taken at real moments, its clocks say something else. */
export function simulatedNode(options: SimulatedNodeOptions = {}) {
  const {
    nodeId = '00000000000000a1',
    bootId = 7,
    startS = 1_760_000_000.25,
    nominalRateHz = 3200,
    rateFactor = 1,
    clockPpm = 0,
    jitterUs = 0,
    framesPerPacket = 400,
    replay = false,
    channels = [{ sensor: 0, axis: 'x' }],
    fullScaleMPerS2 = 80,
    signal = levelBySecond,
    random = seeded(1),
  } = options;

  const factorAt = typeof rateFactor === 'number' ? () => rateFactor : rateFactor;
  /** Seconds since start at which each packet's first frame is taken; within a packet the rate is even. */
  const starts: number[] = [0];
  function startOf(packet: number): number {
    while (starts.length <= packet) {
      const last = starts.at(-1)!;
      starts.push(last + framesPerPacket / (nominalRateHz * factorAt(last)));
    }
    return starts[packet]!;
  }
  const nodeClockUs = (sinceStartS: number) => 60e6 + sinceStartS * 1e6 * (1 + clockPpm * 1e-6);
  const topic = (kind: 'samples' | 'time') => nodeTopic({ site: SITE, nodeId, kind });

  return {
    nodeId,
    /** Packets to send in a given span of time. */
    packetsIn: (seconds: number) => Math.floor((seconds * nominalRateHz * factorAt(0)) / framesPerPacket),
    /** Packet number `index`; arrives `delayS` after its last frame was taken. */
    packet(
      index: number,
      delayS = 0.02,
      extra: { flags?: number; captureMode?: CaptureMode } = {},
    ): SentMessage {
      const fromS = startOf(index);
      const toS = startOf(index + 1);
      const samples = channels.map((_, channel) =>
        Int16Array.from({ length: framesPerPacket }, (_, frame) => {
          const atS = startS + fromS + ((toS - fromS) * frame) / framesPerPacket;
          return Math.round((signal(atS, channel) / fullScaleMPerS2) * 32768);
        }),
      );
      const clockUs = replay ? (startS + fromS) * 1e6 : nodeClockUs(fromS) + random() * jitterUs;
      return {
        topic: topic('samples'),
        arrivedAtUs: Math.round((startS + toS + delayS) * 1e6),
        payload: encodeSamplePacket({
          nodeId,
          bootId,
          sequence: index,
          firstSample: BigInt(index * framesPerPacket),
          nodeClockUs: BigInt(Math.round(clockUs)),
          timeSource: replay ? TimeSource.Replay : TimeSource.Synced,
          captureMode: CaptureMode.Continuous,
          nominalRateHz,
          fullScaleMPerS2,
          flags: 0,
          channels,
          samples,
          ...extra,
        }),
      };
    },
    /** A time request that carries an exchange made at `atS` after the start over a link with these delays. */
    exchange(atS: number, thereS = 0.002, backS = 0.002): SentMessage {
      const unixUs = (sinceStartS: number) => BigInt(Math.round((startS + sinceStartS) * 1e6));
      const clock = (sinceStartS: number) => BigInt(Math.round(nodeClockUs(sinceStartS)));
      const answeredS = atS + thereS + 0.0005;
      return {
        topic: topic('time'),
        arrivedAtUs: Number(unixUs(answeredS + backS + 1)),
        payload: encodeTimeRequest({
          nodeId,
          bootId,
          t0Us: clock(answeredS + backS + 1),
          previous: {
            t0Us: clock(atS),
            t1Us: unixUs(atS + thereS),
            t2Us: unixUs(answeredS),
            t3Us: clock(answeredS + backS),
          },
        }),
      };
    },
  };
}
