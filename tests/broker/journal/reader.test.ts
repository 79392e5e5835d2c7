import { appendFile, mkdir, rename, rm, stat, truncate, unlink } from 'node:fs/promises';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { type JournalReader, openJournalReader } from '../../../broker/journal/index.ts';
import { tempFolder } from '../station.ts';
import {
  appendNumbered,
  numbered,
  numberOf,
  openWriter,
  readEverything,
  segmentFiles,
  TOPIC,
  upTo,
} from './support.ts';

let folder: Awaited<ReturnType<typeof tempFolder>>;
let dir: string;
let reader: JournalReader | null = null;
beforeEach(async () => {
  folder = await tempFolder();
  dir = join(folder.path, 'journal');
});
afterEach(async () => {
  await reader?.close();
  reader = null;
  await folder.remove();
});

/** A finished journal of `count` records in segments of about five each. */
async function writeJournal(count: number): Promise<number[]> {
  const { writer } = await openWriter(dir, { segmentBytes: 1000 });
  const positions: number[] = [];
  for (let i = 0; i < count; i++) positions.push(await writer.append(TOPIC, numbered(i), 1e15 + i));
  await writer.close();
  return positions;
}

describe('reading', () => {
  it('goes across segments, whatever the size of the bites', async () => {
    await writeJournal(40);
    expect((await segmentFiles(dir)).length).toBeGreaterThan(4);
    for (const maxBytes of [1, 100, 173, 999, 2 ** 20]) {
      expect((await readEverything(dir, 0, maxBytes)).records.map(numberOf)).toEqual(upTo(40));
    }
  });

  it('can begin at any record', async () => {
    const positions = await writeJournal(20);
    for (const [first, position] of positions.entries()) {
      expect((await readEverything(dir, position)).records.map(numberOf)).toEqual(upTo(20 - first, first));
    }
  });

  it('gives a record longer than the bite whole', async () => {
    const { writer } = await openWriter(dir);
    await appendNumbered(writer, 0, 2, 200_000);
    await writer.close();
    const { records } = await readEverything(dir, 0, 4096);
    expect(records.map(numberOf)).toEqual([0, 1]);
    expect(records[1]!.payload).toEqual(numbered(1, 200_000));
  });

  it('of an empty journal gives nothing; a missing folder is an error with a code', async () => {
    await mkdir(dir);
    reader = await openJournalReader(dir);
    expect(await reader.read(0)).toEqual({
      records: [],
      nextPosition: 0,
      skippedBytes: 0,
      damagedBytes: 0,
      journalReplaced: false,
    });
    expect([await reader.oldestPosition(), await reader.endPosition()]).toEqual([0, 0]);
    await expect(openJournalReader(join(dir, 'absent'))).rejects.toMatchObject({
      code: 'JOURNAL_FOLDER_MISSING',
    });
  });

  it('finds the segment in which a time begins', async () => {
    await writeJournal(40);
    reader = await openJournalReader(dir);
    for (const wanted of [0, 1, 17, 39]) {
      const from = await reader.positionBefore(1e15 + wanted);
      const { records } = await reader.read(from, 1000);
      expect(numberOf(records[0]!)).toBeLessThanOrEqual(wanted);
      expect(records.map(numberOf)).toContain(wanted);
    }
    expect(await reader.positionBefore(5)).toBe(0);
    const late = await reader.read(await reader.positionBefore(2e15));
    expect(late.records.map(numberOf)).toContain(39);
  });
});

describe('following a journal that is written', () => {
  it('sees every record once, in order, across new segments', async () => {
    const { writer } = await openWriter(dir, { segmentBytes: 20_000 });
    reader = await openJournalReader(dir);
    const seen: number[] = [];
    const writing = (async () => {
      for (let i = 0; i < 2000; i += 20) await appendNumbered(writer, i, 20);
    })();
    let position = 0;
    while (seen.length < 2000) {
      const read = await reader.read(position);
      seen.push(...read.records.map(numberOf));
      position = read.nextPosition;
      expect(read).toMatchObject({ skippedBytes: 0, damagedBytes: 0 });
      if (read.records.length === 0) await reader.waitForMore(position, { timeoutMs: 5000 });
    }
    await writing;
    await writer.close();
    expect(seen).toEqual(upTo(2000));
  });

  it('waits for more: until it comes, the time is over, or the wait is called off', async () => {
    const { writer } = await openWriter(dir);
    reader = await openJournalReader(dir);
    const first = reader.waitForMore(0);
    await appendNumbered(writer, 0, 1);
    expect(await first).toBe(true);
    const { nextPosition } = await reader.read(0);
    expect(await reader.waitForMore(nextPosition, { timeoutMs: 1 })).toBe(false);
    const abort = new AbortController();
    const called = reader.waitForMore(nextPosition, { signal: abort.signal });
    abort.abort();
    expect(await called).toBe(false);
    expect(await reader.waitForMore(0)).toBe(true);
    await writer.close();
  });

  it('a record that is not whole yet is not there yet, and is no news while nothing changes', async () => {
    const positions = await writeJournal(3);
    const [file] = await segmentFiles(dir);
    const { size } = await stat(file!);
    await truncate(file!, size - 1);
    reader = await openJournalReader(dir);
    const read = await reader.read(0);
    expect(read.records.map(numberOf)).toEqual([0, 1]);
    const again = await reader.read(read.nextPosition);
    expect(again).toMatchObject({ records: [], nextPosition: positions[2], damagedBytes: 0 });
    expect(await reader.waitForMore(again.nextPosition, { timeoutMs: 1 })).toBe(false);
    await appendFile(file!, numbered(2).subarray(-1));
    expect(await reader.waitForMore(again.nextPosition)).toBe(true);
    expect((await reader.read(again.nextPosition)).records.map(numberOf)).toEqual([2]);
  });

  it('goes on in the next run of the station after a torn tail, losing nothing', async () => {
    await writeJournal(3);
    const [file] = await segmentFiles(dir);
    await appendFile(file!, Buffer.alloc(60, 9));
    reader = await openJournalReader(dir);
    const before = await reader.read(0);
    const { writer } = await openWriter(dir);
    await appendNumbered(writer, 3, 2);
    const after = await reader.read(before.nextPosition);
    expect(after.records.map(numberOf)).toEqual([3, 4]);
    expect(after).toMatchObject({ damagedBytes: 0, skippedBytes: 0 });
    await writer.close();
  });
});

describe('when segments are gone', () => {
  it('goes on at the oldest one and reports how much it missed', async () => {
    const positions = await writeJournal(40);
    const files = await segmentFiles(dir);
    await unlink(files[0]!);
    await unlink(files[1]!);
    const read = await readEverything(dir, positions[2]);
    const first = numberOf(read.records[0]!);
    expect(read.records.map(numberOf)).toEqual(upTo(40 - first, first));
    expect(read.skippedBytes).toBe(Number(files[2]!.slice(-24, -8)) - positions[2]!);
  });

  it('does not report as missed what was read before, also across a restart', async () => {
    await writeJournal(3);
    const read = await readEverything(dir);
    const { writer } = await openWriter(dir);
    await appendNumbered(writer, 3, 1);
    await writer.close();
    await unlink((await segmentFiles(dir))[0]!);
    const after = await readEverything(dir, read.nextPosition);
    expect(after.records.map(numberOf)).toEqual([3]);
    expect(after.skippedBytes).toBe(0);
  });

  it('reads the segment it is in to its end, even once that is removed', async () => {
    await writeJournal(40);
    const files = await segmentFiles(dir);
    reader = await openJournalReader(dir);
    const first = await reader.read(0, 1);
    for (const file of files.slice(0, 3)) await unlink(file);
    const numbers = first.records.map(numberOf);
    let skipped = 0;
    for (let position = first.nextPosition; ; ) {
      const read = await reader.read(position);
      if (read.records.length === 0) break;
      numbers.push(...read.records.map(numberOf));
      skipped += read.skippedBytes;
      position = read.nextPosition;
    }
    expect(numbers.slice(0, 5)).toEqual([0, 1, 2, 3, 4]);
    expect(numbers.at(-1)).toBe(39);
    expect(skipped).toBeGreaterThan(0);
  });

  it('notices a journal that was replaced by a new one, and begins with that', async () => {
    const { writer } = await openWriter(dir, { segmentBytes: 1000 });
    await appendNumbered(writer, 0, 5);
    await writer.close();
    await rename(dir, `${dir}.old`);
    const second = await openWriter(dir);
    await appendNumbered(second.writer, 100, 2);
    reader = await openJournalReader(dir);
    const read = await reader.read(10 ** 9);
    expect(read.journalReplaced).toBe(true);
    expect(read.records.map(numberOf)).toEqual([100, 101]);
    await second.writer.close();
  });

  it('finds the new journal also with the old one still open', async () => {
    const { writer } = await openWriter(dir);
    await appendNumbered(writer, 0, 200_000 / 100);
    await writer.close();
    reader = await openJournalReader(dir);
    let position = 0;
    for (let read = await reader.read(0); read.records.length > 0; read = await reader.read(position)) {
      position = read.nextPosition;
    }
    await rm(dir, { recursive: true });
    await mkdir(dir);
    expect((await reader.read(position)).records).toEqual([]);
    await rm(dir, { recursive: true });
    expect(await reader.waitForMore(position)).toBe(true);
    await expect(reader.read(position)).rejects.toMatchObject({ code: 'JOURNAL_FOLDER_MISSING' });
    const second = await openWriter(dir);
    await appendNumbered(second.writer, 7, 1);
    await second.writer.close();
    const read = await reader.read(position + 10 ** 9);
    expect(read.records.map(numberOf)).toEqual([7]);
  });
});
