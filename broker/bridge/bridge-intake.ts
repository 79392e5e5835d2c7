import type { IPublishPacket } from 'mqtt';
import { parseNodeTopic, toNodeTopic } from '../../firmware-protocol/index.ts';
import type { PacketSpan } from '../check-message.ts';
import type { Counters } from '../counters.ts';
import type { Intake, SoundMessage } from '../intake.ts';
import { answerTimeRequest } from '../time-exchange.ts';

export interface BridgeIntakeDeps {
  site: string;
  intake: Intake;
  counters: Counters;
  nowUs(): number;
  tell(topic: string, payload: Buffer): void;
  /** Told of what is durable. */
  kept(message: SoundMessage): void;
}

/**
 * What becomes of a message that the other broker hands over. The promise resolves when it may be acknowledged, and
 * rejects when it was not kept because the station ends.
 */
export function createBridgeIntake(deps: BridgeIntakeDeps) {
  const { site, intake, counters, nowUs, tell } = deps;
  /** Packets on their way to the disk. */
  const underway = new Map<string, Promise<void>>();

  function store(message: SoundMessage): Promise<void> {
    const { span } = message;
    if (span === null) return intake.store(message);
    const key = keyOf(span);
    const storing = intake.store(message).finally(() => underway.delete(key));
    underway.set(key, storing);
    return storing;
  }

  /** A message sent again because its acknowledgement was lost; what is on the disk need not go there twice. */
  function known(span: PacketSpan): Promise<void> | null {
    const storing = underway.get(keyOf(span));
    if (storing === undefined && !intake.runs.has(span)) return null;
    counters.add('redelivered');
    // Its node has not heard that it is there.
    if (storing === undefined) intake.runs.add(span);
    return storing ?? Promise.resolve();
  }

  return async (packet: IPublishPacket): Promise<void> => {
    const arrivedAtUs = nowUs();
    const topic = parseNodeTopic(packet.topic);
    if (topic === null || topic.site !== site) {
      counters.add('foreignTopics');
      return;
    }
    if (packet.retain) {
      // What a broker has kept is from before now; when it arrived first nobody knows.
      counters.add('retainedLeft');
      return;
    }
    const payload = typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload;
    const message = intake.check({ topic, topicName: packet.topic, payload, arrivedAtUs });
    if (message === null) return;
    if (topic.kind === 'time') {
      const answer = answerTimeRequest(payload, arrivedAtUs, nowUs);
      if (answer !== null) tell(toNodeTopic(site, topic.nodeId, 'time'), Buffer.from(answer));
    }
    const again = packet.dup && message.span !== null ? known(message.span) : null;
    await (again ?? store(message));
    deps.kept(message);
  };
}

function keyOf({ nodeId, bootId, sequence }: PacketSpan): string {
  return `${nodeId} ${bootId} ${sequence}`;
}
