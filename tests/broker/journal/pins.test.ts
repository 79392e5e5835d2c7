import { mkdir, readdir, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { realDisk } from '../../../broker/journal/disk.ts';
import { openJournalPins } from '../../../broker/journal/index.ts';
import { segmentsToRemove } from '../../../broker/journal/retention.ts';
import { tempFolder } from '../station.ts';
import { appendNumbered, numberOf, openWriter, readEverything, upTo } from './support.ts';

/** `appendNumbered` gives record `n` the arrival time 1e15 + n microseconds. */
const arrivalMs = (n: number) => (1e15 + n) / 1000;
/** Records to a segment of 1000 bytes: 24 bytes of header, 51 of topic and 100 of payload each. */
const SMALL = { segmentBytes: 1000, retention: { maxBytes: 2500, minFreeBytes: 0 } };

describe('which segments go when some are pinned', () => {
  const sealed = [0, 300, 600].map((start) => ({ start, path: `${start}`, bytes: 300, lastWriteMs: start }));
  const rules = { maxBytes: 500, maxAgeMs: 1e9, minFreeBytes: 0 };
  const isPinned = ({ start }: { start: number }) => start === 0;
  const gone = (state: { activeBytes: number; freeBytes: number }, changed: Partial<typeof rules> = {}) =>
    segmentsToRemove(sealed, { nowMs: 1000, ...state }, { ...rules, ...changed }, isPinned).map(
      ({ segment, why }) => [segment.start, why],
    );

  it('leaves the pinned ones, and does not count them to the size', () => {
    expect(gone({ activeBytes: 0, freeBytes: 1e9 })).toEqual([[300, 'size']]);
    expect(gone({ activeBytes: 300, freeBytes: 1e9 })).toEqual([
      [300, 'size'],
      [600, 'size'],
    ]);
  });
  it('leaves them past their time and on a full disk too', () => {
    expect(gone({ activeBytes: 0, freeBytes: 1e9 }, { maxBytes: 1e9, maxAgeMs: 1 })).toEqual([
      [300, 'age'],
      [600, 'age'],
    ]);
    expect(gone({ activeBytes: 0, freeBytes: 0 }, { maxBytes: 1e9, minFreeBytes: 1e6 })).toEqual([
      [300, 'room'],
      [600, 'room'],
    ]);
  });
});

describe('pins of a journal', () => {
  let folder: Awaited<ReturnType<typeof tempFolder>>;
  let dir: string;
  beforeEach(async () => {
    folder = await tempFolder();
    dir = join(folder.path, 'journal');
    await mkdir(dir);
  });
  afterEach(() => folder.remove());

  const numbers = async () => (await readEverything(dir)).records.map(numberOf);
  async function fill(from: number, count: number, options: Parameters<typeof openWriter>[1] = SMALL) {
    const opened = await openWriter(dir, options);
    for (let i = 0; i < count; i++) await appendNumbered(opened.writer, from + i, 1);
    await opened.writer.enforceRetention();
    await opened.writer.close();
    return opened;
  }

  it('keeps every record of the span, over any number of restarts, and lets the rest go', async () => {
    await openJournalPins(dir).put({ name: 'run-1', fromMs: arrivalMs(3), toMs: arrivalMs(14) });
    const first = await fill(0, 40);
    expect(first.writer.counters()['pinnedBytes']).toBeGreaterThan(0);
    await fill(40, 40);
    await fill(80, 1);
    const left = await numbers();
    expect(left).toEqual(expect.arrayContaining(upTo(12, 3)));
    expect(left).not.toContain(30);
    expect(left).not.toContain(50);
    expect(left.length).toBeLessThan(35);
  });

  it('lets them go once the pin is removed', async () => {
    const pins = openJournalPins(dir);
    await pins.put({ name: 'run-1', fromMs: arrivalMs(0), toMs: arrivalMs(9) });
    await fill(0, 40);
    expect(await numbers()).toContain(0);
    await pins.remove('run-1');
    await pins.remove('run-1');
    await fill(40, 5);
    expect(await numbers()).not.toContain(0);
  });

  it('an open pin keeps all that comes, and can be given its end', async () => {
    const pins = openJournalPins(dir);
    await pins.put({ name: 'run-2', fromMs: arrivalMs(5), toMs: null });
    await fill(0, 60);
    expect(await numbers()).toEqual(expect.arrayContaining(upTo(55, 5)));
    await pins.put({ name: 'run-2', fromMs: arrivalMs(5), toMs: arrivalMs(12) });
    expect(await openJournalPins(dir).list()).toEqual([
      { name: 'run-2', fromMs: arrivalMs(5), toMs: arrivalMs(12) },
    ]);
    await fill(60, 1);
    const left = await numbers();
    expect(left).toEqual(expect.arrayContaining(upTo(8, 5)));
    expect(left).not.toContain(30);
  });

  it('keeps them when the disk is nearly full, and says so', async () => {
    await openJournalPins(dir).put({ name: 'run-1', fromMs: arrivalMs(0), toMs: arrivalMs(9) });
    const disk = { ...realDisk, freeBytes: async () => 0 };
    const { log } = await fill(0, 40, { segmentBytes: 1000, disk, retention: { minFreeBytes: 1e9 } });
    const left = await numbers();
    expect(left).toEqual(expect.arrayContaining(upTo(10)));
    expect(left).not.toContain(20);
    expect(log.lines.join('\n')).toMatch(/belong to kept runs, which are never removed/);
  });

  it('removes nothing while a pin cannot be read, and says which', async () => {
    await mkdir(join(dir, 'pins'));
    await writeFile(join(dir, 'pins', 'run-7.json'), '{"fromMs": 12');
    const { log } = await fill(0, 40);
    expect(await numbers()).toEqual(upTo(40));
    expect(log.lines.join('\n')).toMatch(/pins cannot be read.*run-7|pins cannot be read.*pins/);
    await rm(join(dir, 'pins', 'run-7.json'));
    await fill(40, 1);
    expect(await numbers()).not.toContain(0);
  });

  it('a write cut short leaves the old pin, and no pin file is half there', async () => {
    const pins = openJournalPins(dir);
    await pins.put({ name: 'run-1', fromMs: 1, toMs: 2 });
    // What a crash between writing and renaming leaves behind.
    await writeFile(join(dir, 'pins', 'run-1.json.part'), '{"from');
    expect(await pins.list()).toEqual([{ name: 'run-1', fromMs: 1, toMs: 2 }]);
    await pins.put({ name: 'run-1', fromMs: 1, toMs: 5 });
    expect(await readdir(join(dir, 'pins'))).toEqual(['run-1.json']);
  });

  it('refuses names and spans that make no sense', async () => {
    const pins = openJournalPins(dir);
    await expect(pins.put({ name: '../x', fromMs: 1, toMs: 2 })).rejects.toThrow("name '../x'");
    await expect(pins.put({ name: 'a', fromMs: 3, toMs: 2 })).rejects.toThrow(/ends .* before it begins/);
  });
});
