import type { NodeTopic } from '../firmware-protocol/index.ts';
import { checkMessage } from './check-message.ts';
import type { Counters } from './counters.ts';
import type { JournalWriter } from './journal/writer.ts';
import type { Log } from './log.ts';
import type { LogLimiter } from './log-limiter.ts';

const WHAT_TO_DO: Record<string, string> = {
  BadVersion: 'Update the node or the station, so that both speak the same version.',
  BadChecksum: 'Bytes were damaged on the way; if it goes on, check the node and its cables.',
  WrongIdentity: 'Give the node the credentials made for its own identity.',
};

/** A node's message as it came. */
export interface NodeMessage {
  topic: NodeTopic;
  topicName: string;
  payload: Uint8Array;
  arrivedAtUs: number;
}

/** What becomes of the messages of nodes. */
export class Intake {
  readonly #journal: JournalWriter;
  readonly #counters: Counters;
  readonly #log: Log;
  readonly #limiter: LogLimiter;

  constructor(journal: JournalWriter, counters: Counters, log: Log, limiter: LogLimiter) {
    this.#journal = journal;
    this.#counters = counters;
    this.#log = log;
    this.#limiter = limiter;
  }

  /**
   * Whether the message is what its topic promises. One that is not is counted and reported; it is to be acknowledged
   * all the same and not kept: sending it again for ever would not mend it.
   */
  isSound({ topic, topicName, payload }: NodeMessage): boolean {
    this.#counters.add('messages');
    const refusal = checkMessage(topic, payload);
    if (refusal === null) return true;
    this.#counters.add(`refused${refusal.name}`);
    this.#limiter.limit(`${topic.nodeId} ${topic.kind} ${refusal.name}`, (note) => {
      const todo = WHAT_TO_DO[refusal.name] ?? 'Check the firmware that makes this message.';
      this.#log.warn(
        `node ${topic.nodeId}: a message on ${topicName} was not kept: ${refusal.reason}. ${todo}${note}`,
      );
    });
    return false;
  }

  /** Returns once the message is durable. Throws `JOURNAL_CLOSED` when the station ends before. */
  async store({ topicName, payload, arrivedAtUs }: NodeMessage): Promise<void> {
    await this.#journal.append(topicName, payload, arrivedAtUs);
    this.#counters.add('journaled');
    this.#counters.add('journaledBytes', payload.length);
  }
}
