import {
  DecodeError,
  type DecodeFailure,
  decodeEvent,
  decodeSamplePacket,
  decodeStatus,
  decodeTimeRequest,
  type NodeTopic,
} from '../firmware-protocol/index.ts';

/** Why a node's message is not kept: a name to count by, and the reason in words. */
export interface Refusal {
  name: string;
  reason: string;
}

/** Which packet of samples a message is. */
export interface PacketSpan {
  nodeId: string;
  bootId: number;
  sequence: number;
  /** Sample counter behind its last frame. */
  uptoSample: bigint;
}

/** `span` is null for messages that are no samples. */
export type Checked = { ok: true; span: PacketSpan | null } | { ok: false; refusal: Refusal };

const NAMES = new Map<number, string>(Object.entries(DecodeError).map(([name, code]) => [code, name]));

/** Whether the bytes are what the topic promises and come from the node that publishes them. */
export function checkMessage(topic: NodeTopic, payload: Uint8Array): Checked {
  const found = read(topic, payload);
  if ('code' in found) return refused(NAMES.get(found.code) ?? `Code${found.code}`, found.reason);
  if (found.nodeId !== topic.nodeId) {
    return refused('WrongIdentity', `the packet inside says it comes from node ${found.nodeId}`);
  }
  return { ok: true, span: found.span };
}

function refused(name: string, reason: string): Checked {
  return { ok: false, refusal: { name, reason } };
}

/** The node a message says it comes from, or why it cannot be decoded. */
function read(
  topic: NodeTopic,
  payload: Uint8Array,
): { nodeId: string; span: PacketSpan | null } | DecodeFailure {
  if (topic.kind === 'samples') {
    const decoded = decodeSamplePacket(payload);
    if (!decoded.ok) return decoded;
    const { nodeId, bootId, sequence, firstSample, samples } = decoded.packet;
    const uptoSample = firstSample + BigInt(samples[0]?.length ?? 0);
    return { nodeId, span: { nodeId, bootId, sequence, uptoSample } };
  }
  const decode = { status: decodeStatus, time: decodeTimeRequest, event: decodeEvent }[topic.kind];
  const decoded = decode(payload);
  return decoded.ok ? { nodeId: decoded.message.nodeId, span: null } : decoded;
}
