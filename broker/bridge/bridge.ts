import mqtt from 'mqtt';
import { everyNodeTopic, isToNodeTopic } from '../../firmware-protocol/index.ts';
import { createMicrosecondClock } from '../clock.ts';
import { Counters } from '../counters.ts';
import { Intake } from '../intake.ts';
import type { JournalWriter } from '../journal/writer.ts';
import { tellJournaled } from '../journaled-notices.ts';
import type { Log } from '../log.ts';
import { LogLimiter } from '../log-limiter.ts';
import { createBridgeIntake } from './bridge-intake.ts';
import { type BridgeConfig, bridgeOptions } from './config.ts';
import { holdAcknowledgements } from './held-acknowledgements.ts';
import { rememberRuns } from './remember-runs.ts';

export interface BridgeDeps {
  journal: JournalWriter;
  /** The folder that `journal` writes. */
  journalDir: string;
  log: Log;
  /** Told of a node's events, which other parts of the station want to hear at once, when they are on the disk. */
  heardEvent?(topic: string, payload: Buffer): void;
}

export interface Bridge {
  connected(): boolean;
  /** Counts since the start. */
  counters(): Record<string, number>;
  /** Sends on to a node what another part of the station says to it; other topics are left. */
  pass(topic: string, payload: Buffer): void;
  /** Ends the connection; the other broker keeps for the next start what it is sent until then. */
  close(): Promise<void>;
}

const SUBSCRIBE_AGAIN_MS = 10_000;

/**
 * Takes in the messages of nodes that are connected to another MQTT 3.1.1 broker, through a session that this broker
 * keeps while the station is away. It gets its acknowledgement only when the journal holds the message. A broker that
 * is away is waited for. Throws BrokerError `BROKER_BAD_SETTING`, `BRIDGE_LIBRARY`.
 */
export async function createBridge(config: BridgeConfig, deps: BridgeDeps): Promise<Bridge> {
  const { site } = config;
  const { journal, log } = deps;
  const options = bridgeOptions(config);
  const where = new URL(config.url).host;
  const counters = new Counters();
  const intake = new Intake(journal, counters, log, new LogLimiter());
  await rememberRuns(deps.journalDir, intake.runs);
  const client = mqtt.connect(config.url, options);
  let subscribed = false;
  let wasSubscribed = false;
  let problem = '';
  let askAgain: NodeJS.Timeout | undefined;

  const tell = (topic: string, payload: Buffer) => {
    // Never kept for later: what is said to a node is about now.
    if (client.connected) client.publish(topic, payload, { qos: 0 }, () => {});
    else counters.add('untold');
  };
  const take = createBridgeIntake({
    site,
    intake,
    counters,
    nowUs: createMicrosecondClock(),
    tell,
    kept({ topic, topicName, payload }) {
      if (topic.kind === 'event') deps.heardEvent?.(topicName, Buffer.from(payload));
    },
  });
  holdAcknowledgements(client, take);
  const stopTelling = tellJournaled(site, intake.runs, tell, () => subscribed);

  function trouble(text: string): void {
    if (text !== problem) log.warn(text);
    problem = text;
  }

  function subscribe(): void {
    client.subscribe(everyNodeTopic(site), { qos: 1 }, (error, granted) => {
      if (!client.connected) return;
      subscribed = !error && (granted ?? []).every(({ qos }) => qos === 1);
      if (subscribed) {
        wasSubscribed = true;
        problem = '';
        log.info(`taking in nodes of site '${site}' from the broker at ${where}`);
        return;
      }
      const topic = everyNodeTopic(site);
      trouble(
        `the broker at ${where} does not let this account read ${topic} with QoS 1` +
          `${error ? ` (${error.message})` : ''}; it is asked again every ${SUBSCRIBE_AGAIN_MS / 1000} s`,
      );
      clearTimeout(askAgain);
      askAgain = setTimeout(() => client.connected && subscribe(), SUBSCRIBE_AGAIN_MS);
    });
  }

  client.on('connect', ({ sessionPresent }) => {
    if (wasSubscribed && !sessionPresent) {
      counters.add('sessionsLost');
      log.warn(
        `the broker at ${where} has forgotten this station: messages that it took meanwhile are lost, but for ` +
          'those of nodes that keep their packets until they are journaled. Let it keep its sessions on disk.',
      );
    }
    subscribe();
  });
  client.on('close', () => {
    if (subscribed) trouble(`lost the broker at ${where}; it is tried again every second`);
    subscribed = false;
  });
  client.on('error', (error) => trouble(`no connection to the broker at ${where}: ${error.message}`));

  return {
    connected: () => subscribed,
    counters: () => ({ ...counters.all(), connected: subscribed ? 1 : 0 }),
    pass(topic, payload) {
      if (isToNodeTopic(site, topic)) tell(topic, payload);
    },
    async close() {
      stopTelling();
      clearTimeout(askAgain);
      await client.endAsync(!client.connected);
    },
  };
}
