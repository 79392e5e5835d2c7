import { utimes } from 'node:fs/promises';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { realDisk } from '../../../broker/journal/disk.ts';
import { segmentsToRemove } from '../../../broker/journal/retention.ts';
import { tempFolder } from '../station.ts';
import { appendNumbered, numberOf, openWriter, readEverything, segmentFiles, upTo } from './support.ts';

const DAY_MS = 86_400_000;
const rules = { maxBytes: 1000, maxAgeMs: 14 * DAY_MS, minFreeBytes: 0 };
const sealed = [0, 300, 600].map((start) => ({ start, path: `${start}`, bytes: 300, lastWriteMs: start }));
const removed = (
  state: Partial<Parameters<typeof segmentsToRemove>[1]>,
  changed: Partial<typeof rules> = {},
) =>
  segmentsToRemove(
    sealed,
    { activeBytes: 0, freeBytes: 1e9, nowMs: 1000, ...state },
    { ...rules, ...changed },
  ).map(({ segment, why }) => [segment.start, why]);

describe('which segments go', () => {
  it('none within the limits', () => expect(removed({})).toEqual([]));
  it('the oldest, until the whole journal is within its size', () => {
    expect(removed({ activeBytes: 101 })).toEqual([[0, 'size']]);
    expect(removed({ activeBytes: 450 })).toEqual([
      [0, 'size'],
      [300, 'size'],
    ]);
  });
  it('all past their keeping time', () => {
    expect(removed({ nowMs: 14 * DAY_MS + 301 })).toEqual([
      [0, 'age'],
      [300, 'age'],
    ]);
  });
  it('the oldest, until there is room on the disk', () => {
    expect(removed({ freeBytes: 100 }, { minFreeBytes: 500 })).toEqual([
      [0, 'room'],
      [300, 'room'],
    ]);
  });
  it('never more than there are', () => expect(removed({ activeBytes: 1e9 })).toHaveLength(3));
});

describe('retention of a journal that is written', () => {
  let folder: Awaited<ReturnType<typeof tempFolder>>;
  let dir: string;
  beforeEach(async () => {
    folder = await tempFolder();
    dir = join(folder.path, 'journal');
  });
  afterEach(() => folder.remove());

  it('keeps it within its size by itself, and never touches the segment being written', async () => {
    const { writer, log } = await openWriter(dir, {
      segmentBytes: 1000,
      retention: { maxBytes: 4000, minFreeBytes: 0 },
    });
    for (let i = 0; i < 200; i++) await appendNumbered(writer, i, 1);
    await writer.enforceRetention();
    await writer.close();
    const read = await readEverything(dir);
    const first = numberOf(read.records[0]!);
    expect(first).toBeGreaterThan(150);
    expect(read.records.map(numberOf)).toEqual(upTo(200 - first, first));
    expect(writer.counters()['segmentsRemoved']).toBeGreaterThan(20);
    expect(log.lines.join('\n')).toMatch(/removed: the journal reached its size limit/);
    expect((await segmentFiles(dir)).length).toBeLessThanOrEqual(5);
  });

  it('judges what an earlier run left by its age, but keeps the last: it holds the place of the journal', async () => {
    const first = await openWriter(dir, { segmentBytes: 1000 });
    for (let i = 0; i < 20; i++) await appendNumbered(first.writer, i, 1);
    await first.writer.close();
    const files = await segmentFiles(dir);
    const old = new Date(Date.now() - 15 * DAY_MS);
    for (const file of files) await utimes(file, old, old);
    const second = await openWriter(dir);
    await second.writer.enforceRetention();
    expect(await segmentFiles(dir)).toEqual(files.slice(-1));
    const [position] = await appendNumbered(second.writer, 20, 1);
    expect(position!).toBeGreaterThan(Number(files.at(-1)!.slice(-24, -8)));
    await second.writer.close();
  });

  it('makes room when the disk has little left', async () => {
    let freeBytes = 1e12;
    const disk = { ...realDisk, freeBytes: async () => freeBytes };
    const { writer, log } = await openWriter(dir, {
      disk,
      segmentBytes: 1000,
      retention: { minFreeBytes: 1e6 },
    });
    for (let i = 0; i < 30; i++) await appendNumbered(writer, i, 1);
    const before = (await segmentFiles(dir)).length;
    freeBytes = 1e6 - 1500;
    await writer.enforceRetention();
    expect((await segmentFiles(dir)).length).toBe(before - 2);
    expect(log.lines.join('\n')).toMatch(/running out of room/);
    await writer.close();
  });
});
