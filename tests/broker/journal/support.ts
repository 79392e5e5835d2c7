import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { type JournalOptions, type JournalWriter, openJournalWriter } from '../../../broker/index.ts';
import { type JournalRecord, openJournalReader } from '../../../broker/journal/index.ts';
import { type MemoryLog, memoryLog } from '../station.ts';

export const TOPIC = 'clampline/depot/node/00a1b2c3d4e5f607/samples';

export interface OpenJournal {
  writer: JournalWriter;
  log: MemoryLog;
}

export async function openWriter(dir: string, options: JournalOptions = {}): Promise<OpenJournal> {
  const log = memoryLog();
  return { writer: await openJournalWriter(dir, log, options), log };
}

/** Appends payloads that hold their own number, `bytes` long, all at once; resolves to their positions. */
export function appendNumbered(
  writer: JournalWriter,
  from: number,
  count: number,
  bytes = 100,
): Promise<number[]> {
  return Promise.all(
    Array.from({ length: count }, (_, i) => writer.append(TOPIC, numbered(from + i, bytes), 1e15 + from + i)),
  );
}

export function numbered(number: number, bytes = 100): Buffer {
  const payload = Buffer.alloc(bytes, number & 0xff);
  payload.writeUInt32LE(number);
  return payload;
}

export const numberOf = (record: JournalRecord) => record.payload.readUInt32LE(0);

export const upTo = (count: number, from = 0) => Array.from({ length: count }, (_, i) => from + i);

export async function segmentFiles(dir: string): Promise<string[]> {
  const names = await readdir(dir);
  return names
    .filter((name) => name.endsWith('.journal'))
    .sort()
    .map((name) => join(dir, name));
}

export interface Everything {
  records: JournalRecord[];
  damagedBytes: number;
  skippedBytes: number;
  nextPosition: number;
}

/** Reads from a position to the end, adding up what was passed over. */
export async function readEverything(dir: string, from = 0, maxBytes?: number): Promise<Everything> {
  const reader = await openJournalReader(dir);
  const sum: Everything = { records: [], damagedBytes: 0, skippedBytes: 0, nextPosition: from };
  for (;;) {
    const read = await reader.read(sum.nextPosition, maxBytes);
    sum.records.push(...read.records);
    sum.damagedBytes += read.damagedBytes;
    sum.skippedBytes += read.skippedBytes;
    sum.nextPosition = read.nextPosition;
    if (read.records.length === 0) break;
  }
  await reader.close();
  return sum;
}
