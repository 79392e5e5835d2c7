import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { tempFolder } from '../station.ts';
import { type FailingDisk, failingDisk, type Operation } from './failing-disk.ts';
import { appendNumbered, numberOf, openWriter, readEverything, upTo } from './support.ts';

let folder: Awaited<ReturnType<typeof tempFolder>>;
let dir: string;
let disk: FailingDisk;
beforeEach(async () => {
  folder = await tempFolder();
  dir = join(folder.path, 'journal');
  disk = failingDisk();
});
afterEach(() => folder.remove());

/** Whether it settles within a few turns and file operations; used only to show that it does not. */
async function settled(promise: Promise<unknown>): Promise<boolean> {
  let done = false;
  promise.finally(() => {
    done = true;
  });
  await new Promise((resolve) => setTimeout(resolve, 20));
  return done;
}

describe('a disk that fails while the station runs', () => {
  const faults: [Operation, string][] = [
    ['write', 'ENOSPC'],
    ['write', 'EIO'],
    ['write', 'EROFS'],
    ['sync', 'EIO'],
    ['sync', 'ENOSPC'],
  ];
  for (const [operation, code] of faults) {
    it(`${code} on ${operation}: holds, says so, and loses nothing once it works again`, async () => {
      const { writer, log } = await openWriter(dir, { disk, retryMs: 1 });
      await appendNumbered(writer, 0, 3);
      disk.fail(operation, code);
      const held = appendNumbered(writer, 3, 5);
      await vi.waitFor(() => expect(disk.failures).toBeGreaterThan(2));
      expect(await settled(held)).toBe(false);
      expect(writer.state()).toMatchObject({ state: 'waiting', code });
      expect(log.lines.filter((line) => line.includes('cannot be written'))).toHaveLength(1);

      disk.heal();
      const positions = await held;
      expect(writer.state()).toEqual({ state: 'ready' });
      await appendNumbered(writer, 8, 2);
      await writer.close();
      const read = await readEverything(dir);
      expect(read.records.map(numberOf)).toEqual(upTo(10));
      expect(read.damagedBytes).toBe(0);
      expect(read.records.slice(3, 8).map((record) => record.position)).toEqual(positions);
    });
  }

  for (const operation of ['open', 'syncFolder'] as const) {
    it(`a new segment that cannot be made (${operation}) holds too`, async () => {
      const { writer } = await openWriter(dir, { disk, retryMs: 1, segmentBytes: 400 });
      await appendNumbered(writer, 0, 3);
      disk.fail(operation, 'ENOSPC');
      const held = appendNumbered(writer, 3, 3);
      await vi.waitFor(() => expect(disk.failures).toBeGreaterThan(2));
      expect(await settled(held)).toBe(false);
      disk.heal();
      await held;
      await writer.close();
      expect((await readEverything(dir)).records.map(numberOf)).toEqual(upTo(6));
    });
  }

  it('memory stays bounded: beyond the bound a message waits outside, then follows in order', async () => {
    const { writer } = await openWriter(dir, { disk, retryMs: 1, maxPendingBytes: 1000 });
    disk.fail('write', 'ENOSPC');
    const held = appendNumbered(writer, 0, 40);
    await vi.waitFor(() => expect(disk.failures).toBeGreaterThan(0));
    expect(writer.counters()['pendingBytes']).toBeLessThanOrEqual(1000);
    expect(writer.counters()['heldBack']).toBeGreaterThan(30);
    disk.heal();
    await held;
    await writer.close();
    expect((await readEverything(dir)).records.map(numberOf)).toEqual(upTo(40));
  });

  it('closing while the disk refuses: rejected, never acknowledged', async () => {
    const { writer } = await openWriter(dir, { disk, retryMs: 60_000 });
    disk.fail('write', 'ENOSPC');
    const held = Promise.allSettled([appendNumbered(writer, 0, 1), appendNumbered(writer, 1, 2)]);
    await vi.waitFor(() => expect(disk.failures).toBeGreaterThan(0));
    await writer.close();
    for (const result of await held) {
      expect(result).toMatchObject({ status: 'rejected', reason: { code: 'JOURNAL_CLOSED' } });
    }
  });
});
