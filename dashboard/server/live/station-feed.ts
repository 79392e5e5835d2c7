import type { MqttClient } from 'mqtt';
import { watchTopic } from '../../../firmware-protocol/index.ts';
import type { Log } from '../config.ts';
import type { MountedSensor } from '../records/mounts.ts';
import { parseStationMessage, type StationMessage, stationTopics } from './messages.ts';

/** The dashboard's end of the broker: readings and live blocks in, requests to watch out. */
export interface StationFeed {
  connected(): boolean;
  lastMessageMs(): number | null;
  /** Messages that were no reading and no live block. */
  refused(): number;
  askFor(sensor: MountedSensor): void;
  /** Settles when the broker has taken it; rejects while it is away. */
  publish(topic: string, payload: string, retain: boolean): Promise<void>;
  /** How often the broker was found so far. */
  connections(): number;
  close(): Promise<void>;
}

/** Follows the client through losses and returns; the client itself reconnects. */
export function createStationFeed(
  client: MqttClient,
  options: { site: string; log: Log; now(): number; onMessage(message: StationMessage): void },
): StationFeed {
  const { site, log, now, onMessage } = options;
  let lastMessageMs: number | null = null;
  let refused = 0;
  let subscribed = false;
  let connections = 0;
  let lastProblem = '';

  function problem(text: string): void {
    if (text !== lastProblem) log.warn(text);
    lastProblem = text;
  }

  client.on('connect', () => {
    // Retained readings come with the subscription, so what was missed in between is made good at once.
    client.subscribe(stationTopics(site), { qos: 1 }, (error, granted) => {
      const denied = granted?.some(({ qos }) => qos >= 128) ?? false;
      subscribed = !error && !denied;
      if (subscribed) {
        log.info('connected to the broker');
        connections += 1;
        lastProblem = '';
      } else if (denied) {
        problem('the broker does not let the dashboard read: check its service account');
      } else if (client.connected) {
        problem(`cannot subscribe at the broker: ${error?.message}`);
      }
    });
  });
  client.on('close', () => {
    if (subscribed) problem('lost the broker; newest readings come from the store until it is back');
    subscribed = false;
  });
  client.on('error', (error) => problem(`no connection to the broker: ${error.message}`));
  client.on('message', (topic, payload) => {
    const message = parseStationMessage(site, topic, payload);
    if (message === null) {
      refused += 1;
      return;
    }
    lastMessageMs = now();
    onMessage(message);
  });

  return {
    connected: () => subscribed,
    lastMessageMs: () => lastMessageMs,
    refused: () => refused,
    askFor({ nodeId, sensor }) {
      // Never kept for later: a request from before an outage says nothing about who watches after it.
      if (subscribed) client.publish(watchTopic(site, nodeId, sensor), '', { qos: 0 });
    },
    async publish(topic, payload, retain) {
      // Whoever publishes keeps what is not taken; the client must not keep it too.
      if (!subscribed) throw new Error('the broker is away');
      await client.publishAsync(topic, payload, { qos: 1, retain });
    },
    connections: () => connections,
    async close() {
      subscribed = false;
      await client.endAsync(true);
    },
  };
}
