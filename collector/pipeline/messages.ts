import {
  DecodeError,
  decodeEvent,
  decodeSamplePacket,
  decodeStatus,
  decodeTimeRequest,
  type NodeEvent,
  type NodeMessageKind,
  type NodeStatus,
  parseNodeTopic,
  type SamplePacket,
  type TimeRequest,
} from '../../firmware-protocol/index.ts';

/** One message of the journal. */
export interface PipelineRecord {
  position: number;
  topic: string;
  payload: Uint8Array;
  arrivedAtUs: number;
}

/** What a record is to the pipeline. */
export type Message =
  | { kind: 'samples'; packet: SamplePacket }
  | { kind: 'time'; request: TimeRequest }
  | { kind: 'status'; status: NodeStatus }
  | { kind: 'event'; event: NodeEvent }
  /** `reason` is a fixed word, to be counted by. */
  | { kind: 'refused'; reason: string };

const CODE_NAMES = new Map<number, string>(Object.entries(DecodeError).map(([name, code]) => [code, name]));

/** Reads a record; any bytes give a message. */
export function messageOf({ topic: name, payload }: PipelineRecord): Message {
  const topic = parseNodeTopic(name);
  if (topic === null) return { kind: 'refused', reason: 'other-topic' };
  const read = readKind(topic.kind, payload);
  if ('code' in read)
    return { kind: 'refused', reason: `malformed-${topic.kind}-${CODE_NAMES.get(read.code)}` };
  // The broker lets a node publish its own topics only; what lies in the packet is the node's own claim.
  if (read.nodeId !== topic.nodeId) return { kind: 'refused', reason: 'wrong-node' };
  return read.message;
}

type Read = { nodeId: string; message: Message } | { code: number };

function readKind(kind: NodeMessageKind, payload: Uint8Array): Read {
  if (kind === 'samples') {
    const decoded = decodeSamplePacket(payload);
    return decoded.ok
      ? { nodeId: decoded.packet.nodeId, message: { kind, packet: decoded.packet } }
      : decoded;
  }
  if (kind === 'time') {
    const decoded = decodeTimeRequest(payload);
    return decoded.ok
      ? { nodeId: decoded.message.nodeId, message: { kind, request: decoded.message } }
      : decoded;
  }
  if (kind === 'status') {
    const decoded = decodeStatus(payload);
    return decoded.ok
      ? { nodeId: decoded.message.nodeId, message: { kind, status: decoded.message } }
      : decoded;
  }
  const decoded = decodeEvent(payload);
  return decoded.ok ? { nodeId: decoded.message.nodeId, message: { kind, event: decoded.message } } : decoded;
}
