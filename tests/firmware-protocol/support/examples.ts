import {
  encodeCommand,
  encodeEvent,
  encodeJournaled,
  encodeSamplePacket,
  encodeStatus,
  encodeTimeAnswer,
  encodeTimeRequest,
  type NodeEvent,
  type NodeStatus,
  offlineStatus,
  type SamplePacket,
} from '../../../firmware-protocol/index.ts';
import { Kind } from '../../../firmware-protocol/layout.ts';
import { randomSource } from './hostile.ts';

const header = { nodeId: '0123456789abcdef', bootId: 0x5eed1234 };

export const sampleExample: SamplePacket = {
  ...header,
  sequence: 3,
  firstSample: 48n,
  nodeClockUs: 7_501_250n,
  timeSource: 1,
  captureMode: 0,
  nominalRateHz: 3200,
  fullScaleMPerS2: 156.9064,
  flags: 0,
  channels: [{ sensor: 0, axis: 'z' }],
  samples: [
    Int16Array.of(
      2048,
      2113,
      2170,
      2211,
      2234,
      2236,
      2215,
      2176,
      2120,
      2056,
      1991,
      1931,
      1886,
      1861,
      1858,
      1877,
    ),
  ],
};

export const statusExample: NodeStatus = {
  ...header,
  state: 'sampling',
  resetCause: 'power',
  timeSource: 1,
  batteryPercent: 81,
  nodeClockUs: 60_000_000n,
  batteryMilliVolt: 3912,
  bufferFillPermille: 12,
  temperatureC: 41.5,
  signalDbm: -61,
  resolutionBits: 16,
  nextStatusWithinS: 150,
  nextSequence: 375,
  droppedPackets: 0,
  overruns: 1,
  nominalRateHz: 3200,
  fullScaleMPerS2: 156.9064,
  noiseDensityUmPerS2PerRtHz: 735,
  sensorBandwidthHz: 1600,
  firmwareVersion: '1.4.0',
  sensorPart: 'MEMS, 3 axes, 16 g',
};

const eventExample: NodeEvent = {
  ...header,
  eventCount: 2,
  nodeClockUs: 61_000_000n,
  timeSource: 1,
  sample: 195_200n,
  event: 'noise-mark',
  sensor: null,
  commandId: 0,
  result: 0,
  value: 0,
};

export interface Vector {
  name: string;
  kind: number;
  hex: string;
}

const hexOf = (bytes: Uint8Array) => Buffer.from(bytes).toString('hex');

function samplesOf(
  name: string,
  frames: number,
  axes: ('x' | 'y' | 'z')[],
  at: (i: number) => number,
): Vector {
  const samples = axes.map((_, c) => Int16Array.from({ length: frames }, (_, i) => at(i + 1000 * c)));
  const channels = axes.map((axis, index) => ({ sensor: index, axis }));
  return {
    name,
    kind: Kind.Samples,
    hex: hexOf(encodeSamplePacket({ ...sampleExample, channels, samples })),
  };
}

/** One valid message of every kind and shape that matters, as the TypeScript codec writes them. */
export function validVectors(): Vector[] {
  const random = randomSource(7);
  const plain = (name: string, kind: number, bytes: Uint8Array) => ({ name, kind, hex: hexOf(bytes) });
  const exchange = { t0Us: 1_000n, t1Us: 1_750_000_000_004_000n, t2Us: 1_750_000_000_004_500n, t3Us: 7_500n };
  return [
    plain('samples: worked example, plain', Kind.Samples, encodeSamplePacket(sampleExample, 'plain')),
    plain('samples: worked example, predicted', Kind.Samples, encodeSamplePacket(sampleExample)),
    plain(
      'samples: extremes of every field',
      Kind.Samples,
      encodeSamplePacket({
        ...sampleExample,
        nodeId: 'ffffffffffffffff',
        bootId: 0xffffffff,
        sequence: 0xffffffff,
        firstSample: 2n ** 53n - 1n,
        nodeClockUs: 2n ** 53n - 1n,
        timeSource: 2,
        captureMode: 2,
        nominalRateHz: 200_000,
        fullScaleMPerS2: 4294.967295,
        flags: 0xffff,
        channels: Array.from({ length: 16 }, (_, sensor) => ({ sensor, axis: 'single' as const })),
        samples: Array.from({ length: 16 }, () => Int16Array.of(-32768, 32767)),
      }),
    ),
    samplesOf(
      'samples: sine of two thirds of the range',
      512,
      ['x', 'y', 'z'],
      (i) => 21_845 * Math.sin(i / 20),
    ),
    samplesOf('samples: noise of the whole range', 64, ['x'], () => random(65536) - 32768),
    samplesOf('samples: small noise on gravity', 333, ['x', 'z'], () => 2048 + random(64)),
    samplesOf('samples: rare large steps among zeros', 700, ['y'], (i) => (i % 90 === 0 ? 32_000 : 0)),
    plain('status: full', Kind.Status, encodeStatus(statusExample)),
    plain('status: last will', Kind.Status, encodeStatus(offlineStatus(header))),
    plain(
      'time request: first',
      Kind.TimeRequest,
      encodeTimeRequest({ ...header, t0Us: 1_000n, previous: null }),
    ),
    plain(
      'time request: with exchange',
      Kind.TimeRequest,
      encodeTimeRequest({ ...header, t0Us: 9n, previous: exchange }),
    ),
    plain('event: noise mark', Kind.Event, encodeEvent(eventExample)),
    plain(
      'event: tap',
      Kind.Event,
      encodeEvent({ ...eventExample, event: 'tap', sensor: 1, sample: null, value: 88_000 }),
    ),
    plain(
      'event: command refused',
      Kind.Event,
      encodeEvent({ ...eventExample, event: 'command-refused', commandId: 65_535, result: -15 }),
    ),
    plain('time answer', Kind.TimeAnswer, encodeTimeAnswer({ ...header, ...exchange })),
    plain(
      'command: start',
      Kind.Command,
      encodeCommand({ ...header, bootId: 0, commandId: 1, action: 'start' }),
    ),
    plain(
      'command: set rate',
      Kind.Command,
      encodeCommand({ ...header, commandId: 2, action: 'set-rate', rateHz: 6400 }),
    ),
    plain(
      'command: set range',
      Kind.Command,
      encodeCommand({ ...header, commandId: 3, action: 'set-range', fullScaleMPerS2: 40 }),
    ),
    plain(
      'command: identify',
      Kind.Command,
      encodeCommand({ ...header, commandId: 4, action: 'identify', seconds: 600 }),
    ),
    plain(
      'journaled',
      Kind.Journaled,
      encodeJournaled({ ...header, fromSequence: 10, uptoSequence: 20, uptoSample: 5120n }),
    ),
  ];
}
