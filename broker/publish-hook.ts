import type { Aedes, Client } from 'aedes';
import { parseNodeTopic, toNodeTopic } from '../firmware-protocol/index.ts';
import { mayPublish, ownTopics } from './access.ts';
import type { ClientList } from './client-list.ts';
import type { ConnectionGuard } from './connection-guard.ts';
import type { Counters } from './counters.ts';
import type { Intake, NodeMessage } from './intake.ts';
import type { Log } from './log.ts';
import type { LogLimiter } from './log-limiter.ts';
import { answerTimeRequest } from './time-exchange.ts';

export type PublishPacket = Parameters<Aedes['authorizePublish']>[1];

export interface PublishHookDeps {
  site: string;
  clients: ClientList;
  intake: Intake;
  counters: Counters;
  log: Log;
  limiter: LogLimiter;
  nowUs(): number;
  guardOf(client: Client): ConnectionGuard;
  /** Sends a message of the station's own to a node. */
  tell(topic: string, payload: Buffer): void;
  /** Keeps the newest message of a topic for who subscribes later. */
  retain(packet: PublishPacket): Promise<void>;
  /** Told of what the station's other parts publish. */
  heardService(topic: string, payload: Buffer): void;
  closing(): boolean;
}

/**
 * Decides about each message published, and keeps what nodes say. The acknowledgement follows when the promise resolves;
 * when it rejects, the connection is closed and nothing is acknowledged (MQTT 3.1.1 has no refusal to send).
 */
export function createPublishHook(deps: PublishHookDeps) {
  const { site, clients, intake, counters } = deps;

  return async (client: Client, packet: PublishPacket): Promise<void> => {
    const guard = deps.guardOf(client);
    const isWill = packet === (client as Client & { will?: PublishPacket }).will;
    const arrivedAtUs = isWill ? deps.nowUs() : guard.takeArrivalUs();
    // The station goes, not the node: its last will would tell the opposite.
    if (isWill && deps.closing()) throw new Error('the broker is closing');
    const who = clients.get(client);
    if (who === undefined || !mayPublish(who.principal, packet.topic, site)) {
      denied(client, packet.topic);
      throw new Error(`not allowed to publish on ${packet.topic}`);
    }
    const payload = typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload;
    if (who.principal.role === 'service') {
      deps.heardService(packet.topic, payload);
      await retainFirst(packet);
      return;
    }

    const topic = parseNodeTopic(packet.topic)!;
    if (packet.retain && topic.kind !== 'status') {
      counters.add('retainTakenOff');
      packet.retain = false;
    }
    const message = intake.check({ topic, topicName: packet.topic, payload, arrivedAtUs });
    if (message === null) {
      packet.retain = false;
      return;
    }
    if (topic.kind === 'time') answer(message);
    guard.inHand(payload.length);
    try {
      await intake.store(message);
    } finally {
      guard.done(payload.length);
    }
    await retainFirst(packet);
  };

  /**
   * Left to itself aedes numbers a message first and then keeps it, so that one which is not kept overtakes it; and of two
   * that come out of order it drops the earlier one as a repetition.
   */
  async function retainFirst(packet: PublishPacket): Promise<void> {
    if (!packet.retain) return;
    await deps.retain(packet);
    packet.retain = false;
  }

  function answer({ topic, payload, arrivedAtUs }: NodeMessage): void {
    const bytes = answerTimeRequest(payload, arrivedAtUs, deps.nowUs);
    if (bytes === null) return;
    counters.add('timeAnswers');
    deps.tell(toNodeTopic(site, topic.nodeId, 'time'), Buffer.from(bytes));
  }

  function denied(client: Client, topic: string): void {
    counters.add('publishesDenied');
    const principal = clients.get(client)?.principal;
    const name = principal === undefined ? 'unknown' : clients.nameOf(principal);
    deps.limiter.limit(`publish ${name}`, (note) => {
      const todo =
        principal?.role === 'node'
          ? `A node publishes on ${ownTopics(site, principal.nodeId)} only, as samples, status, time or event: check site, identity and the topic's last part.`
          : '';
      deps.log.warn(`${name} may not publish on ${topic.slice(0, 100)}; it was disconnected. ${todo}${note}`);
    });
  }
}
