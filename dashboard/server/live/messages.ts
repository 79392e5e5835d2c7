import { Type } from 'typebox';
import { Compile } from 'typebox/compile';
import type { CollectorState, LiveBlock, NodeHealth, Reading, Tap } from '../../../collector/index.ts';
import {
  brokerTopic,
  collectorTopic,
  decodeEvent,
  healthTopic,
  liveTopic,
  type NodeEvent,
  nodeTopic,
  parseNodeTopic,
  readingTopic,
  tapTopic,
  vehicleTopic,
} from '../../../firmware-protocol/index.ts';
import { AxisReading } from '../../contract/model.ts';
import { NodeHealth as NodeHealthSchema, Tap as TapSchema } from '../../contract/rig.ts';
import { VehicleSample } from '../../contract/runs.ts';
import { NumberOrNull } from '../../contract/scalars.ts';

/** What the collector publishes. Checked, because another program may hold the broker's service account. */
const Sensor = {
  nodeId: Type.String({ pattern: '^[0-9a-f]{16}$' }),
  sensor: Type.Integer({ minimum: 0, maximum: 15 }),
  startMs: Type.Integer(),
  sampleRateHz: Type.Number(),
};
const ReadingMessage = Compile(
  Type.Object({
    ...Sensor,
    durationS: Type.Number(),
    bandHz: Type.Tuple([Type.Number(), Type.Number()]),
    axes: Type.Array(AxisReading, { maxItems: 16 }),
    flags: Type.Array(Type.String(), { maxItems: 32 }),
  }),
);
const Points = Type.Array(Type.Number(), { maxItems: 8192 });
const LiveMessage = Compile(
  Type.Object({
    ...Sensor,
    axes: Type.Array(
      Type.Object({
        axis: AxisReading.properties.axis,
        waveformMPerS2: Points,
        spectrumMPerS2: Points,
      }),
      { maxItems: 16 },
    ),
    spectrumStepHz: Type.Number(),
  }),
);

const HealthMessage = Compile(NodeHealthSchema);
const TapMessage = Compile(TapSchema);

const CollectorMessage = Compile(
  Type.Object({
    atMs: Type.Number(),
    phase: Type.Enum(['starting', 'waiting', 'catching-up', 'live', 'stopped']),
    lagMs: NumberOrNull,
    caughtUpShare: NumberOrNull,
    lastReadingMs: NumberOrNull,
    counters: Type.Record(Type.String(), Type.Number()),
    error: Type.Union([
      Type.Object({ code: Type.String(), message: Type.String(), remedy: Type.String() }),
      Type.Null(),
    ]),
  }),
);

const BrokerMessage = Compile(
  Type.Object({
    atMs: Type.Number(),
    waiting: Type.Boolean(),
    counters: Type.Record(Type.String(), Type.Number()),
  }),
);

/** What the broker says of itself and of the journal it writes. */
export interface BrokerState {
  atMs: number;
  /** The disk does not take what is to be kept. */
  waiting: boolean;
  counters: Record<string, number>;
}

export type StationMessage =
  | { kind: 'reading'; reading: Reading }
  | { kind: 'live'; block: LiveBlock }
  | { kind: 'health'; health: NodeHealth }
  | { kind: 'tap'; tap: Tap }
  | { kind: 'collector'; state: CollectorState }
  | { kind: 'broker'; state: BrokerState }
  | { kind: 'event'; event: NodeEvent }
  | { kind: 'vehicle'; assetId: number; sample: VehicleSample };

const VehicleMessage = Compile(VehicleSample);

/** Subscriptions that bring everything `parseStationMessage` understands. */
export function stationTopics(site: string): string[] {
  return [
    readingTopic(site, '+', '+'),
    liveTopic(site, '+', '+'),
    healthTopic(site, '+'),
    tapTopic(site, '+'),
    collectorTopic(site),
    brokerTopic(site),
    nodeTopic({ site, nodeId: '+', kind: 'event' }),
    vehicleTopic(site, '+'),
  ];
}

/** Null for anything that is not a whole message of the sensor its topic names. */
export function parseStationMessage(site: string, topic: string, payload: Buffer): StationMessage | null {
  const node = parseNodeTopic(topic);
  if (node !== null) {
    const decoded = node.kind === 'event' && node.site === site ? decodeEvent(payload) : null;
    // The topic is what the broker vouches for; what lies in the message is the node's own claim.
    return decoded?.ok && decoded.message.nodeId === node.nodeId
      ? { kind: 'event', event: decoded.message }
      : null;
  }
  let message: unknown;
  try {
    message = JSON.parse(payload.toString('utf8'));
  } catch {
    return null;
  }
  if (topic === collectorTopic(site)) {
    return CollectorMessage.Check(message) ? { kind: 'collector', state: message as CollectorState } : null;
  }
  if (topic === brokerTopic(site)) {
    return BrokerMessage.Check(message) ? { kind: 'broker', state: message } : null;
  }
  const assetId = Number(topic.split('/').at(-1));
  if (Number.isSafeInteger(assetId) && topic === vehicleTopic(site, assetId)) {
    return VehicleMessage.Check(message) ? { kind: 'vehicle', assetId, sample: message } : null;
  }
  const { nodeId, sensor } = (message ?? {}) as { nodeId?: string; sensor?: number };
  if (nodeId === undefined) return null;
  if (topic === healthTopic(site, nodeId)) {
    return HealthMessage.Check(message) ? { kind: 'health', health: message as NodeHealth } : null;
  }
  if (topic === tapTopic(site, nodeId)) {
    return TapMessage.Check(message) ? { kind: 'tap', tap: message } : null;
  }
  if (sensor === undefined) return null;
  if (topic === readingTopic(site, nodeId, sensor)) {
    return ReadingMessage.Check(message) ? { kind: 'reading', reading: message as Reading } : null;
  }
  if (topic === liveTopic(site, nodeId, sensor)) {
    return LiveMessage.Check(message) ? { kind: 'live', block: message } : null;
  }
  return null;
}
