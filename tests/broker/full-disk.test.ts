/** The whole way, on a real file system that is full or read-only. Needs the right to mount one. */
import { rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { openJournalWriter } from '../../broker/index.ts';
import { mountSmallDisk, type SmallDisk } from './journal/tmpfs.ts';
import {
  allRecords,
  memoryLog,
  OTHER_NODE,
  type Station,
  samplePacket,
  samplesTopic,
  sequenceOf,
  startStation,
} from './station.ts';

const NOT_ALLOWED =
  'skipped: this account may not mount a small disk (run as root, or in a container that may)';

let disk: SmallDisk | null = null;
let station: Station | null = null;
afterEach(async () => {
  await station?.close();
  await disk?.unmount();
  station = disk = null;
});

describe('a full disk', () => {
  it('nothing is acknowledged while it is full; all of it is stored once there is room', async ({ skip }) => {
    disk = await mountSmallDisk('400k');
    if (disk === null) return skip(NOT_ALLOWED);
    const filler = join(disk.path, 'filler');
    await writeFile(filler, Buffer.alloc(300_000));
    station = await startStation({
      journalDir: join(disk.path, 'journal'),
      journal: { retryMs: 5, retention: { minFreeBytes: 0 } },
    });
    const client = await station.connect();
    const acknowledged: number[] = [];
    const published = Array.from({ length: 150 }, async (_, i) => {
      await client.publishAsync(samplesTopic(), samplePacket(i, undefined, 262), { qos: 1 });
      acknowledged.push(i);
    });
    await vi.waitFor(() =>
      expect(station!.journal.state()).toMatchObject({ state: 'waiting', code: 'ENOSPC' }),
    );
    expect(acknowledged.length).toBeLessThan(100);
    const stored = (await station.records()).map(sequenceOf);
    expect(stored).toEqual(expect.arrayContaining(acknowledged));
    expect(station.log.lines.join('\n')).toMatch(/cannot be written.*free some space/);

    // A node that comes now is told at once; the station's own parts are let in, to show what is wrong.
    await expect(station.connect(OTHER_NODE)).rejects.toThrow(/server unavailable/i);
    await station.connect('dashboard');

    await rm(filler);
    await Promise.all(published);
    expect((await station.records()).map(sequenceOf)).toEqual(Array.from({ length: 150 }, (_, i) => i));
    expect(station.journal.state()).toEqual({ state: 'ready' });
    await station.connect(OTHER_NODE);
  });

  it('full at the start: says so with a code, or starts and holds', async ({ skip }) => {
    disk = await mountSmallDisk('64k');
    if (disk === null) return skip(NOT_ALLOWED);
    await writeFile(join(disk.path, 'filler'), Buffer.alloc(65_536)).catch(() => {});
    await expect(openJournalWriter(join(disk.path, 'journal'), memoryLog())).rejects.toMatchObject({
      code: 'JOURNAL_DISK_FULL',
    });
  });
});

describe('a read-only disk', () => {
  it('is an error with a code at the start', async ({ skip }) => {
    disk = await mountSmallDisk('400k');
    if (disk === null) return skip(NOT_ALLOWED);
    const dir = join(disk.path, 'journal');
    await (await openJournalWriter(dir, memoryLog())).close();
    disk.remount('ro');
    await expect(openJournalWriter(dir, memoryLog())).rejects.toMatchObject({
      code: 'JOURNAL_FOLDER_READ_ONLY',
    });
    await expect(openJournalWriter(join(disk.path, 'new'), memoryLog())).rejects.toMatchObject({
      code: 'JOURNAL_FOLDER_READ_ONLY',
    });
    expect(await allRecords(dir)).toEqual([]);
  });
});
