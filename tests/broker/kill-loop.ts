import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import mqtt, { type MqttClient } from 'mqtt';
import type { JournalRecord } from '../../broker/journal/index.ts';
import { bundle, startChild } from './child-process.ts';
import { allRecords, clientOptions, samplePacket, samplesTopic, sequenceOf, tempFolder } from './station.ts';

export interface KillLoopResult {
  kills: number;
  acknowledged: number;
  /** Records in the journal; more than acknowledged: what was stored but not yet acknowledged when the kill came. */
  stored: number;
  /** `node/sequence` of what was acknowledged and is not in the journal, or not as it was sent. */
  lost: string[];
  /** Positions that are not above the one before. */
  disordered: number;
}

const NODES = ['00000000000000a1', '00000000000000a2', '00000000000000a3'];
const IN_FLIGHT = 20;

/**
 * Starts a broker in a process of its own, lets three nodes publish with QoS 1, kills it without warning at a random
 * moment, starts it again on the same journal, and so on. Nodes go on with the first packet not acknowledged.
 */
export async function killLoop(kills: number, random: () => number = Math.random): Promise<KillLoopResult> {
  const folder = await tempFolder();
  try {
    const program = await bundle(new URL('./broker-child.ts', import.meta.url), folder.path);
    const journalDir = join(folder.path, 'journal');
    const acknowledged = new Map(NODES.map((node) => [node, new Set<number>()]));
    for (let i = 0; i < kills; i++) {
      const child = await startChild(program, [journalDir]);
      const clients = await Promise.all(
        NODES.map((node) => mqtt.connectAsync(`mqtt://127.0.0.1:${child.firstLine}`, clientOptions(node))),
      );
      for (const [index, client] of clients.entries()) {
        publishOn(client, NODES[index]!, acknowledged.get(NODES[index]!)!);
      }
      await sleep(20 + random() * 150);
      await child.kill();
      for (const client of clients) client.end(true);
    }
    // The last start finds what the last kill left.
    const last = await startChild(program, [journalDir]);
    await last.kill();
    return judge(await allRecords(journalDir), acknowledged, kills);
  } finally {
    await folder.remove();
  }
}

/** Publishes from the first packet not acknowledged on, many at a time, until the connection goes. */
function publishOn(client: MqttClient, node: string, acknowledged: Set<number>): void {
  let next = 0;
  while (acknowledged.has(next)) next++;
  let open = true;
  client.on('error', () => {});
  client.on('close', () => {
    open = false;
  });
  const publish = () => {
    const sequence = next++;
    client.publish(samplesTopic(node), samplePacket(sequence, node), { qos: 1 }, (error) => {
      if (error || !open) return;
      acknowledged.add(sequence);
      publish();
    });
  };
  for (let i = 0; i < IN_FLIGHT; i++) publish();
}

function judge(
  records: JournalRecord[],
  acknowledged: ReadonlyMap<string, ReadonlySet<number>>,
  kills: number,
): KillLoopResult {
  const stored = new Map<string, JournalRecord>();
  for (const record of records) stored.set(`${record.topic} ${sequenceOf(record)}`, record);
  const lost: string[] = [];
  let count = 0;
  for (const [node, sequences] of acknowledged) {
    for (const sequence of sequences) {
      count++;
      const record = stored.get(`${samplesTopic(node)} ${sequence}`);
      if (!record?.payload.equals(samplePacket(sequence, node))) lost.push(`${node}/${sequence}`);
    }
  }
  const disordered = records.filter(
    (record, i) => i > 0 && record.position <= records[i - 1]!.position,
  ).length;
  return { kills, acknowledged: count, stored: records.length, lost, disordered };
}
