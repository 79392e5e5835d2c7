import type { NodeTopic } from '../firmware-protocol/index.ts';
import { checkMessage, type PacketSpan } from './check-message.ts';
import type { Counters } from './counters.ts';
import type { JournalWriter } from './journal/writer.ts';
import { JournaledRuns } from './journaled-runs.ts';
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

/** A message that is what its topic promises. */
export interface SoundMessage extends NodeMessage {
  /** Null for messages that are no samples. */
  span: PacketSpan | null;
}

/** What becomes of the messages of nodes. */
export class Intake {
  /** Packets that went into the journal through here. */
  readonly runs = new JournaledRuns();
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
   * The message, when it is what its topic promises; else null. Such a one is counted and reported; it is to be
   * acknowledged all the same and not kept: sending it again for ever would not mend it.
   */
  check(message: NodeMessage): SoundMessage | null {
    const { topic, topicName, payload } = message;
    this.#counters.add('messages');
    const checked = checkMessage(topic, payload);
    if (checked.ok) return { ...message, span: checked.span };
    const { name, reason } = checked.refusal;
    this.#counters.add(`refused${name}`);
    this.#limiter.limit(`${topic.nodeId} ${topic.kind} ${name}`, (note) => {
      const todo = WHAT_TO_DO[name] ?? 'Check the firmware that makes this message.';
      this.#log.warn(
        `node ${topic.nodeId}: a message on ${topicName} was not kept: ${reason}. ${todo}${note}`,
      );
    });
    return null;
  }

  /** Returns once the message is durable. Throws `JOURNAL_CLOSED` when the station ends before. */
  async store({ topicName, payload, arrivedAtUs, span }: SoundMessage): Promise<void> {
    await this.#journal.append(topicName, payload, arrivedAtUs);
    if (span !== null) this.runs.add(span);
    this.#counters.add('journaled');
    this.#counters.add('journaledBytes', payload.length);
  }
}
