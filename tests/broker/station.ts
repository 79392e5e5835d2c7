/** A broker with its journal in a temporary folder, and clients that speak to it: real files, real MQTT. */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt, { type IClientOptions, type MqttClient } from 'mqtt';
import {
  type Broker,
  type BrokerConfig,
  type CredentialSource,
  createBroker,
  type JournalOptions,
  type JournalWriter,
  openJournalWriter,
} from '../../broker/index.ts';
import { type JournalRecord, openJournalReader } from '../../broker/journal/index.ts';
import type { Log } from '../../broker/log.ts';
import {
  CaptureMode,
  encodeSamplePacket,
  nodeTopic,
  type SamplePacket,
  TimeSource,
} from '../../firmware-protocol/index.ts';
import { credentials, NODE, SITE, TOKEN } from './credentials.ts';

export { credentials, NODE, OTHER_NODE, SITE, TOKEN } from './credentials.ts';

export const samplesTopic = (nodeId = NODE) => nodeTopic({ site: SITE, nodeId, kind: 'samples' });
export const statusTopic = (nodeId = NODE) => nodeTopic({ site: SITE, nodeId, kind: 'status' });

export interface MemoryLog extends Log {
  lines: string[];
}

export function memoryLog(): MemoryLog {
  const lines: string[] = [];
  const add = (message: string) => void lines.push(message);
  return { lines, info: add, warn: add, error: add };
}

export async function tempFolder(): Promise<{ path: string; remove(): Promise<void> }> {
  const path = await mkdtemp(join(tmpdir(), 'clampline-broker-'));
  return { path, remove: () => rm(path, { recursive: true, force: true }) };
}

export interface Station {
  broker: Broker;
  journal: JournalWriter;
  journalDir: string;
  log: MemoryLog;
  connect(username?: string, options?: IClientOptions): Promise<MqttClient>;
  records(): Promise<JournalRecord[]>;
  close(): Promise<void>;
}

export async function startStation(
  options: {
    broker?: Partial<BrokerConfig>;
    journal?: JournalOptions;
    journalDir?: string;
    credentials?: CredentialSource;
  } = {},
): Promise<Station> {
  const folder = await tempFolder();
  const journalDir = options.journalDir ?? join(folder.path, 'journal');
  const log = memoryLog();
  const journal = await openJournalWriter(journalDir, log, options.journal);
  const broker = await createBroker(
    { site: SITE, port: 0, ...options.broker },
    { credentials: options.credentials ?? credentials, journal, log },
  );
  const clients: MqttClient[] = [];
  return {
    broker,
    journal,
    journalDir,
    log,
    async connect(username = NODE, extra = {}) {
      const client = await mqtt.connectAsync(
        `mqtt://127.0.0.1:${broker.port}`,
        clientOptions(username, extra),
      );
      client.on('error', () => {});
      clients.push(client);
      return client;
    },
    records: () => allRecords(journalDir),
    async close() {
      for (const client of clients) client.end(true);
      await broker.close();
      await journal.close();
      await folder.remove();
    },
  };
}

export function clientOptions(username: string, extra: IClientOptions = {}): IClientOptions {
  return { username, password: TOKEN, reconnectPeriod: 0, protocolVersion: 4, ...extra };
}

export async function allRecords(journalDir: string): Promise<JournalRecord[]> {
  const reader = await openJournalReader(journalDir);
  const records: JournalRecord[] = [];
  for (let position = await reader.oldestPosition(); ; ) {
    const read = await reader.read(position);
    if (read.records.length === 0) break;
    records.push(...read.records);
    position = read.nextPosition;
  }
  await reader.close();
  return records;
}

/** A sound packet of 3 axes of noise, which cannot be compressed: 262 frames make about 1.6 kB. */
export function samplePacket(sequence: number, nodeId = NODE, frames = 16): Buffer {
  const packet: SamplePacket = {
    nodeId,
    bootId: 7,
    sequence,
    firstSample: BigInt(sequence * frames),
    nodeClockUs: BigInt(sequence) * 80_000n,
    timeSource: TimeSource.Free,
    captureMode: CaptureMode.Continuous,
    nominalRateHz: 3200,
    fullScaleMPerS2: 156.9,
    flags: 0,
    channels: [
      { sensor: 0, axis: 'x' },
      { sensor: 0, axis: 'y' },
      { sensor: 0, axis: 'z' },
    ],
    samples: [0, 1, 2].map((axis) =>
      Int16Array.from(
        { length: frames },
        (_, i) => Math.imul(sequence * 3 + axis + 1, 0x9e3779b1 ^ Math.imul(i + 1, 0x85ebca6b)) >> 15,
      ),
    ),
  };
  return Buffer.from(encodeSamplePacket(packet));
}

/** Sequence number inside a journaled sample packet (firmware-protocol/SPEC.md). */
export function sequenceOf(record: JournalRecord): number {
  return record.payload.readUInt32LE(16);
}
