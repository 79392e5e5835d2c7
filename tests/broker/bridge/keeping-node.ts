import mqtt, { type MqttClient } from 'mqtt';
import { decodeJournaled, nodeTopic, toNodeTopic } from '../../../firmware-protocol/index.ts';
import { SITE } from '../credentials.ts';

/** Packets that may wait to be journaled; a board has room for about as many. */
const ROOM = 60;
/** Packets that the station says it misses are sent again at most so often. */
const REWIND_GAP_MS = 1_000;

export interface KeepingNode {
  /** Packets that the broker acknowledged, by sequence. */
  acknowledged: ReadonlySet<number>;
  /** Packets sent more than once. */
  resent(): number;
  /** Resolves when every packet is journaled. */
  done: Promise<void>;
  stop(): void;
}

/**
 * A node as section 9 of SPEC.md describes one with memory: it keeps each packet until it lies in a run that is
 * journaled, sends all it keeps again after a reconnection, and again what lies before such a run.
 */
export function keepingNode(options: {
  url: string;
  username: string;
  password: string;
  nodeId: string;
  bootId: number;
  packets: readonly Uint8Array[];
  everyMs: number;
}): KeepingNode {
  const { url, username, password, nodeId, bootId, packets, everyMs } = options;
  const kept = new Map<number, Uint8Array>();
  const acknowledged = new Set<number>();
  const sentOnce = new Set<number>();
  let resent = 0;
  let next = 0;
  let rewindAfterMs = 0;
  let finish = () => {};
  const done = new Promise<void>((resolve) => {
    finish = resolve;
  });
  // No session and no queue of the client's: what is sent again is this node's own business.
  const client: MqttClient = mqtt.connect(url, {
    username,
    password,
    clientId: `node-${nodeId}`,
    clean: true,
    protocolVersion: 4,
    reconnectPeriod: 200,
    queueQoSZero: false,
  });
  client.on('error', () => {});

  function send(sequence: number, packet: Uint8Array): void {
    if (!client.connected) return;
    if (sentOnce.has(sequence)) resent++;
    sentOnce.add(sequence);
    const topic = nodeTopic({ site: SITE, nodeId, kind: 'samples' });
    client.publish(topic, Buffer.from(packet), { qos: 1 }, (error) => {
      if (!error) acknowledged.add(sequence);
    });
  }
  const sendAllKept = () => {
    for (const [sequence, packet] of kept) send(sequence, packet);
  };

  client.on('connect', () => {
    client.subscribe(toNodeTopic(SITE, nodeId, '+'), { qos: 1 });
    sendAllKept();
  });
  client.on('message', (topic, payload) => {
    if (topic !== toNodeTopic(SITE, nodeId, 'journaled')) return;
    const decoded = decodeJournaled(payload);
    if (!decoded.ok) throw new Error(decoded.reason);
    const { fromSequence, uptoSequence } = decoded.message;
    if (decoded.message.bootId !== bootId) return;
    for (let sequence = fromSequence; sequence < uptoSequence; sequence++) kept.delete(sequence);
    if (kept.size === 0 && next === packets.length) finish();
    const lost = [...kept.keys()].some((sequence) => sequence < fromSequence);
    if (lost && Date.now() > rewindAfterMs) {
      rewindAfterMs = Date.now() + REWIND_GAP_MS;
      sendAllKept();
    }
  });
  const sampling = setInterval(() => {
    if (next === packets.length || kept.size >= ROOM) return;
    const packet = packets[next]!;
    kept.set(next, packet);
    send(next++, packet);
  }, everyMs);

  return {
    acknowledged,
    resent: () => resent,
    done,
    stop() {
      clearInterval(sampling);
      client.end(true);
    },
  };
}
