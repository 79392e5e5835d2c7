import mqtt, { type MqttClient } from 'mqtt';
import {
  collectorTopic,
  healthTopic,
  liveTopic,
  readingTopic,
  tapTopic,
  watchTopic,
} from '../../firmware-protocol/index.ts';
import type { MqttAccess } from '../config.ts';
import type { LiveBlock, Reading } from '../model.ts';
import type { NodeHealth } from '../rig/node-health.ts';
import type { Tap } from '../rig/tap.ts';
import type { CollectorState } from './collector-state.ts';
import { createNewest } from './newest.ts';
import { createWatches } from './watches.ts';

/** Publishes over MQTT; never fails and never holds up measuring: what cannot be sent now is replaced by newer. */
export interface Publisher {
  readings(readings: readonly Reading[]): void;
  live(blocks: readonly LiveBlock[]): void;
  health(nodes: readonly NodeHealth[]): void;
  taps(taps: readonly Tap[]): void;
  state(state: CollectorState): void;
  isWatched(nodeId: string, sensor: number): boolean;
  isConnected(): boolean;
  close(lastState: CollectorState): Promise<void>;
}

/** Bytes that may wait in the socket; beyond, the broker or the link is too slow and publishing pauses. */
const MAX_WAITING_BYTES = 1 << 20;
const RECONNECT_MS = 1000;

export function createPublisher(
  access: MqttAccess,
  site: string,
  warn: (message: string) => void,
): Publisher {
  const newest = createNewest();
  /** Health by node: what was last said, and what of it is still to be sent. */
  const health = new Map<string, NodeHealth>();
  const unsentHealth = new Set<string>();
  const watches = createWatches();
  let lastState: CollectorState | null = null;
  const client: MqttClient = mqtt.connect(access.url, {
    username: access.username,
    password: access.password,
    clientId: `collector-${site}-${process.pid}-${Math.random().toString(16).slice(2, 8)}`,
    clean: true,
    queueQoSZero: false,
    reconnectPeriod: RECONNECT_MS,
    ...(access.ca === undefined ? {} : { ca: access.ca }),
  });
  let lastWarning = '';

  client.on('connect', () => {
    lastWarning = '';
    client.subscribe(watchTopic(site, '+', '+'), { qos: 0 });
    newest.takeAllAgain();
    for (const nodeId of health.keys()) unsentHealth.add(nodeId);
    flush();
    if (lastState) sendState(lastState);
  });
  client.on('message', (topic) => {
    const [nodeId, sensor] = topic.split('/').slice(-2);
    watches.renew(`${nodeId}/${sensor}`, Date.now());
  });
  client.on('error', (error) => {
    // The client goes on trying; the same reason every second is said once.
    if (error.message === lastWarning) return;
    lastWarning = error.message;
    warn(`readings are stored but not published: ${error.message}`);
  });

  function canSend(): boolean {
    return client.connected && (client.stream?.writableLength ?? 0) < MAX_WAITING_BYTES;
  }

  function send(topic: string, value: unknown, retain: boolean): void {
    client.publish(topic, JSON.stringify(value), { qos: 0, retain }, () => {});
  }

  function flush(): void {
    const readings = newest.take();
    while (readings.length > 0 && canSend()) {
      const reading = readings.shift()!;
      send(readingTopic(site, reading.nodeId, reading.sensor), reading, true);
    }
    newest.putBack(readings);
  }

  function flushHealth(): void {
    for (const nodeId of unsentHealth) {
      if (!canSend()) return;
      send(healthTopic(site, nodeId), health.get(nodeId), true);
      unsentHealth.delete(nodeId);
    }
  }

  function sendState(state: CollectorState): void {
    if (canSend()) send(collectorTopic(site), state, true);
  }

  return {
    readings(readings) {
      newest.offer(readings, Date.now());
      flush();
    },
    live(blocks) {
      for (const block of blocks)
        if (canSend()) send(liveTopic(site, block.nodeId, block.sensor), block, false);
    },
    health(nodes) {
      for (const node of nodes) {
        health.set(node.nodeId, node);
        unsentHealth.add(node.nodeId);
      }
      flushHealth();
    },
    taps(taps) {
      for (const tap of taps) if (canSend()) send(tapTopic(site, tap.nodeId), tap, false);
    },
    state(state) {
      lastState = state;
      flush();
      flushHealth();
      sendState(state);
    },
    isWatched: (nodeId, sensor) => watches.isWatched(`${nodeId}/${sensor}`, Date.now()),
    isConnected: () => client.connected,
    async close(state) {
      sendState(state);
      await client.endAsync(!client.connected);
    },
  };
}
