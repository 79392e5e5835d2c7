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

const NAMES = new Map<number, string>(Object.entries(DecodeError).map(([name, code]) => [code, name]));

/** Null when the bytes are what the topic promises and come from the node that publishes them. */
export function checkMessage(topic: NodeTopic, payload: Uint8Array): Refusal | null {
  const nodeId = senderOf(topic, payload);
  if (typeof nodeId !== 'string') {
    return { name: NAMES.get(nodeId.code) ?? `Code${nodeId.code}`, reason: nodeId.reason };
  }
  if (nodeId !== topic.nodeId) {
    return { name: 'WrongIdentity', reason: `the packet inside says it comes from node ${nodeId}` };
  }
  return null;
}

/** The node a message says it comes from, or why it cannot be decoded. */
function senderOf(topic: NodeTopic, payload: Uint8Array): string | DecodeFailure {
  if (topic.kind === 'samples') {
    const decoded = decodeSamplePacket(payload);
    return decoded.ok ? decoded.packet.nodeId : decoded;
  }
  const decode = { status: decodeStatus, time: decodeTimeRequest, event: decodeEvent }[topic.kind];
  const decoded = decode(payload);
  return decoded.ok ? decoded.message.nodeId : decoded;
}
