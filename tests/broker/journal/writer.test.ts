import { appendFile, mkdir, readFile, rm, stat, truncate, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { BrokerError } from '../../../broker/index.ts';
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
beforeEach(async () => {
  folder = await tempFolder();
  dir = join(folder.path, 'journal');
});
afterEach(() => folder.remove());

const code = (promise: Promise<unknown>) =>
  promise.then(
    () => 'no error',
    (error: unknown) => (error instanceof BrokerError ? error.code : `not coded: ${error}`),
  );

describe('append', () => {
  it('resolves with growing positions, at which a reader finds the records', async () => {
    const { writer } = await openWriter(dir);
    const positions = await appendNumbered(writer, 0, 30);
    await writer.close();
    const { records } = await readEverything(dir);
    expect(records.map(numberOf)).toEqual(upTo(30));
    expect(records.map((record) => record.position)).toEqual(positions);
    expect(records[7]).toMatchObject({ topic: TOPIC, arrivedAtUs: 1e15 + 7, payload: numbered(7) });
  });

  it('puts what arrives together into one write', async () => {
    const { writer } = await openWriter(dir);
    await appendNumbered(writer, 0, 500);
    expect(writer.counters()).toMatchObject({ records: 500, pendingBytes: 0 });
    expect(writer.counters()['commits']).toBeLessThan(5);
    await writer.close();
  });

  it('takes an empty payload and a topic beyond ASCII', async () => {
    const { writer } = await openWriter(dir);
    await writer.append('werkstatt/süd', Buffer.alloc(0), 5);
    await writer.close();
    const { records } = await readEverything(dir);
    expect(records).toMatchObject([{ topic: 'werkstatt/süd', arrivedAtUs: 5 }]);
    expect(records[0]!.payload.length).toBe(0);
  });

  it('refuses what is too large, and everything once closed, with a code', async () => {
    const { writer } = await openWriter(dir);
    expect(await code(writer.append(TOPIC, Buffer.alloc(2 ** 20 + 1), 1))).toBe('JOURNAL_RECORD_TOO_LARGE');
    expect(await code(writer.append('t'.repeat(1025), Buffer.alloc(1), 1))).toBe('JOURNAL_RECORD_TOO_LARGE');
    await writer.close();
    expect(await code(writer.append(TOPIC, Buffer.alloc(1), 1))).toBe('JOURNAL_CLOSED');
  });

  it('finishes on close what was appended before', async () => {
    const { writer } = await openWriter(dir);
    const appended = appendNumbered(writer, 0, 100);
    await writer.close();
    expect((await appended).length).toBe(100);
    expect((await readEverything(dir)).records.length).toBe(100);
  });
});

describe('segments', () => {
  it('begin where the one before ends, within a run', async () => {
    const { writer } = await openWriter(dir, { segmentBytes: 2000 });
    for (let i = 0; i < 60; i++) await writer.append(TOPIC, numbered(i), i);
    await writer.close();
    const files = await segmentFiles(dir);
    expect(files.length).toBeGreaterThan(3);
    let end = 0;
    for (const file of files) {
      expect(Number(file.slice(-24, -8))).toBe(end);
      const { size } = await stat(file);
      expect(size).toBeLessThanOrEqual(2000);
      end += size;
    }
    expect((await readEverything(dir)).records.map(numberOf)).toEqual(upTo(60));
  });

  it('are closed by age too', async () => {
    const { writer } = await openWriter(dir, { segmentMaxAgeMs: -1 });
    await writer.append(TOPIC, numbered(0), 1);
    await writer.append(TOPIC, numbered(1), 2);
    await writer.close();
    expect((await segmentFiles(dir)).length).toBe(2);
  });

  it('a new run never uses a position again, even when the last segment lost its end', async () => {
    const first = await openWriter(dir);
    const before = await appendNumbered(first.writer, 0, 10);
    await first.writer.close();
    const [file] = await segmentFiles(dir);
    await truncate(file!, 300);
    const second = await openWriter(dir);
    const [after] = await appendNumbered(second.writer, 10, 1);
    await second.writer.close();
    expect(after!).toBeGreaterThan(Math.max(...before));
    const read = await readEverything(dir);
    expect(read.records.map(numberOf)).toEqual([0, 10]);
    expect(read).toMatchObject({ skippedBytes: 0, damagedBytes: 0 });
  });

  it('an unfinished segment of an earlier start keeps its place', async () => {
    await mkdir(dir);
    await writeFile(join(dir, '0000000000005000.journal'), Buffer.alloc(11));
    const { writer } = await openWriter(dir);
    const [position] = await appendNumbered(writer, 0, 1);
    await writer.close();
    expect(position!).toBeGreaterThan(5000);
    expect((await readEverything(dir)).records.map(numberOf)).toEqual([0]);
  });
});

describe('a torn tail', () => {
  const torn: [string, (file: string) => Promise<void>][] = [
    ['half a record', async (file) => truncate(file, (await stat(file)).size - 50)],
    ['half a record header', async (file) => truncate(file, (await stat(file)).size - 130)],
    ['zeros', (file) => appendFile(file, Buffer.alloc(4096))],
    ['old bytes', (file) => appendFile(file, Buffer.alloc(4096, 0xa7))],
  ];
  for (const [what, tear] of torn) {
    it(`of ${what} is cut off at the next start, and said`, async () => {
      const first = await openWriter(dir);
      await appendNumbered(first.writer, 0, 5);
      await first.writer.close();
      const [file] = await segmentFiles(dir);
      await tear(file!);
      const tornSize = (await stat(file!)).size;

      const second = await openWriter(dir);
      expect(second.log.lines.join()).toMatch(/cut off \d+ bytes of an unfinished write/);
      expect((await stat(file!)).size).toBeLessThan(tornSize);
      await appendNumbered(second.writer, 5, 5);
      await second.writer.close();
      const read = await readEverything(dir);
      const whole = read.records.map(numberOf);
      expect(whole.slice(-5)).toEqual([5, 6, 7, 8, 9]);
      expect(whole.slice(0, 4)).toEqual([0, 1, 2, 3]);
      expect(read.damagedBytes).toBe(0);
    });
  }

  it('does not cost records that follow a damaged one', async () => {
    const first = await openWriter(dir);
    const positions = await appendNumbered(first.writer, 0, 5);
    await first.writer.close();
    const [file] = await segmentFiles(dir);
    const bytes = await readFile(file!);
    bytes[positions[2]! + 90]! ^= 1;
    await writeFile(file!, bytes);
    const second = await openWriter(dir);
    await second.writer.close();
    expect(second.log.lines).toEqual([]);
    const read = await readEverything(dir);
    expect(read.records.map(numberOf)).toEqual([0, 1, 3, 4]);
    expect(read.damagedBytes).toBe(positions[3]! - positions[2]!);
  });
});

describe('a folder that cannot be used', () => {
  it('is named with a code: parent missing, a file in its place', async () => {
    expect(await code(openWriter(join(folder.path, 'absent', 'journal')))).toBe('JOURNAL_FOLDER_MISSING');
    await writeFile(dir, 'a file');
    expect(await code(openWriter(dir))).toBe('JOURNAL_FOLDER_UNUSABLE');
  });

  it('a journal of a newer version is left alone', async () => {
    const first = await openWriter(dir);
    await appendNumbered(first.writer, 0, 1);
    await first.writer.close();
    const [file] = await segmentFiles(dir);
    const bytes = await readFile(file!);
    bytes[7] = 2;
    const { crc32c } = await import('../../../firmware-protocol/index.ts');
    bytes.writeUInt32LE(crc32c(bytes.subarray(0, 36)), 36);
    await writeFile(file!, bytes);
    expect(await code(openWriter(dir))).toBe('JOURNAL_NEWER_FORMAT');
    expect(await readFile(file!)).toEqual(bytes);
    expect(await code(readEverything(dir))).toBe('JOURNAL_NEWER_FORMAT');
  });

  it('has one writer at a time; a lock of a process that is gone does not count', async () => {
    const { writer } = await openWriter(dir);
    expect(await code(openWriter(dir))).toBe('JOURNAL_IN_USE');
    await writer.close();
    await (await openWriter(dir)).writer.close();
    // Above the largest process number Linux gives (proc(5), pid_max).
    await writeFile(join(dir, 'writer.lock'), '4194305 77');
    const again = await openWriter(dir);
    await again.writer.close();
    // The same number, but of a process that started at another time.
    await writeFile(join(dir, 'writer.lock'), `${process.pid} 1`);
    await (await openWriter(dir)).writer.close();
  });

  it('removed under the running writer: what is appended then is still kept', async () => {
    const { writer } = await openWriter(dir, { segmentBytes: 300, retryMs: 5 });
    await appendNumbered(writer, 0, 1);
    await rm(dir, { recursive: true });
    const held = appendNumbered(writer, 1, 3);
    await new Promise((resolve) => setTimeout(resolve, 30));
    await mkdir(dir, { recursive: true });
    await held;
    await writer.close();
    expect((await readEverything(dir)).records.map(numberOf)).toContain(3);
  });
});
