/** How many packets a second come through mosquitto and the bridge onto the disk. */
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import mqtt from 'mqtt';
import { createBridge, openJournalWriter } from '../../broker/index.ts';
import { OUTSIDE_BROKERS } from '../broker/bridge/outside-broker.ts';
import { memoryLog, SITE, samplePacket, samplesTopic, tempFolder } from '../broker/station.ts';
import type { Figure } from './run.ts';

const NODES = 6;
const PACKETS_EACH = 4000;
const IN_FLIGHT = 50;
const FRAMES = 262; // 3 axes x 262 frames of noise: 1.6 kB

export async function bench(): Promise<Figure[]> {
  const { absent, run } = OUTSIDE_BROKERS[0]!;
  if (absent !== null) {
    console.warn(absent);
    return [];
  }
  const folder = await tempFolder();
  const broker = await run();
  const { url, username, password } = broker;
  const journalDir = join(folder.path, 'journal');
  const journal = await openJournalWriter(journalDir, memoryLog());
  const deps = { journal, journalDir, log: memoryLog() };
  const bridge = await createBridge({ site: SITE, url, username, password }, deps);
  const clients = await Promise.all(
    Array.from({ length: NODES }, () => mqtt.connectAsync(url, { username, password, protocolVersion: 4 })),
  );
  try {
    while (!bridge.connected()) await sleep(20);
    const nodes = clients.map((client, i) => {
      const node = (0xb100 + i).toString(16).padStart(16, '0');
      const packets = Array.from({ length: PACKETS_EACH }, (_, n) => samplePacket(n, node, FRAMES));
      return { client, topic: samplesTopic(node), packets };
    });
    const used = process.cpuUsage();
    const begin = performance.now();
    await Promise.all(nodes.map(publishAll));
    while ((bridge.counters()['journaled'] ?? 0) < NODES * PACKETS_EACH) await sleep(5);
    const seconds = (performance.now() - begin) / 1000;
    const { user, system } = process.cpuUsage(used);
    const each = (user + system) / (NODES * PACKETS_EACH);
    return [
      {
        name: 'bridge: packets from mosquitto onto the disk, acknowledged',
        value: (NODES * PACKETS_EACH) / seconds,
        unit: 'packets/s',
      },
      { name: 'bridge: processor time, the publishing nodes included', value: each, unit: 'µs a packet' },
    ];
  } finally {
    for (const client of clients) await client.endAsync(true);
    await bridge.close();
    await journal.close();
    await broker.close();
    await folder.remove();
  }
}

interface Publisher {
  client: mqtt.MqttClient;
  topic: string;
  packets: readonly Buffer[];
}

async function publishAll({ client, topic, packets }: Publisher): Promise<void> {
  let next = 0;
  const lane = async () => {
    while (next < packets.length) await client.publishAsync(topic, packets[next++]!, { qos: 1 });
  };
  await Promise.all(Array.from({ length: IN_FLIGHT }, lane));
}
