import { chmodSync, existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { open } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, describe, expect, it } from 'vitest';
import { openReadingReader } from '../../../collector/store/sqlite-reader.ts';
import { openSqliteStore } from '../../../collector/store/sqlite-store.ts';
import { madeReading, readingStoreContract } from './reading-store-contract.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-store-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
let files = 0;
const freshFile = () => join(folder, `fresh-${files++}.sqlite`);

readingStoreContract('SQLite', (place) => openSqliteStore(join(folder, `${place}.sqlite`)));

const SENSOR = { nodeId: '00000000000000b1', sensor: 0 };
const DAY_MS = 86_400_000;

describe('SQLite reader', () => {
  it('is empty until the file is there, then sees every commit', async () => {
    const file = freshFile();
    const reader = openReadingReader(file);
    expect(await reader.latest()).toEqual([]);
    expect(await reader.readings(SENSOR, 0, 1e15)).toEqual([]);
    const ask = {
      sensor: SENSOR,
      value: 'kurtosis',
      axis: 'x',
      fromMs: 0,
      toMs: 1e15,
      maxPoints: 9,
    } as const;
    expect((await reader.series(ask)).timeMs).toEqual([]);
    writeFileSync(file, '');
    expect(await reader.latest()).toEqual([]);
    const store = await openSqliteStore(file);
    expect(await reader.latest()).toEqual([]);
    await store.commit([madeReading(0, 1)], 1);
    expect(await reader.latest()).toHaveLength(1);
    await store.commit([madeReading(1, 1)], 2);
    expect(await reader.readings(SENSOR, 0, 1e15)).toHaveLength(2);
    await store.close();
    expect((await reader.series(ask)).count).toEqual([2]);
    await reader.close();
  });
});

describe('mean acceleration', () => {
  it('is kept beside the values, and rows from before it was kept read as they did', async () => {
    const store = await openSqliteStore(freshFile());
    const [x, y] = madeReading(0, 1).axes;
    const withMeans = [
      { ...x!, meanMPerS2: -9.75 },
      { ...y!, meanMPerS2: null },
    ];
    await store.commit([madeReading(0, 1), madeReading(1, 1, { axes: withMeans })], 1);
    const [before, after] = await store.readings(SENSOR, 0, 1e15);
    expect(before!.axes.map(({ meanMPerS2 }) => meanMPerS2)).toEqual([undefined, undefined]);
    expect(after!.axes.map(({ meanMPerS2 }) => meanMPerS2)).toEqual([-9.75, null]);
    expect(after!.axes[1]!.kurtosis).toBe(y!.kurtosis);
    await store.close();
  });
});

describe('retention', () => {
  it('keeps each level for its time, the newest minute for ever, and says when it is done', async () => {
    const store = await openSqliteStore(freshFile(), {
      retention: { secondsDays: 2, minutesDays: 4, hoursDays: 8 },
    });
    const beginMs = madeReading(0, 1).startMs;
    const readings = Array.from({ length: 10 * 24 * 6 }, (_, i) => madeReading(i * 600, 1));
    await store.commit(readings, 1);
    const nowMs = beginMs + 10 * DAY_MS;
    let rounds = 1;
    while (await store.prune(nowMs)) rounds++;
    expect(rounds).toBeLessThan(20);
    const seconds = await store.readings(SENSOR, 0, 1e15);
    const oldestDays = (nowMs - seconds[0]!.startMs) / DAY_MS;
    expect(oldestDays).toBeGreaterThanOrEqual(2);
    expect(oldestDays).toBeLessThan(3);
    const spanDays = async (slotMs: number) => {
      const maxPoints = (10 * DAY_MS) / slotMs;
      const ask = {
        sensor: SENSOR,
        value: 'velocityRmsMmPerS',
        axis: 'x',
        fromMs: beginMs,
        toMs: nowMs,
        maxPoints,
      } as const;
      const { timeMs } = await store.series(ask);
      return (nowMs - timeMs[0]!) / DAY_MS;
    };
    expect(Math.floor(await spanDays(60_000))).toBe(4);
    expect(Math.floor(await spanDays(3_600_000))).toBe(8);

    let more = true;
    while (more) more = await store.prune(nowMs + 1000 * DAY_MS);
    expect(await store.latest()).toHaveLength(1);
    await store.close();
  });

  it('takes history that is older than seconds are kept, whole, and lets it stay for ten minutes', async () => {
    const store = await openSqliteStore(freshFile(), { retention: { secondsDays: 2 } });
    const nowMs = madeReading(86_400 * 30, 1).startMs;
    await store.commit([madeReading(86_400 * 30, 1)], 1);
    while (await store.prune(nowMs));
    // Sixteen seconds in commits of four, as a backlog comes, with pruning between.
    for (let k = 0; k < 16; k += 4) {
      await store.commit(
        [0, 1, 2, 3].map((i) => madeReading(k + i, 1)),
        2 + k,
      );
      while (await store.prune(nowMs + k * 1000));
    }
    const [fromMs, toMs] = [madeReading(0, 1).startMs, madeReading(60, 1).startMs];
    expect(await store.readings(SENSOR, fromMs, toMs)).toHaveLength(16);
    const ask = {
      sensor: SENSOR,
      value: 'velocityRmsMmPerS',
      axis: 'x',
      fromMs,
      toMs,
      maxPoints: 1,
    } as const;
    expect((await store.series(ask)).count).toEqual([16]);
    while (await store.prune(nowMs + 15_000 + 600_000));
    expect(await store.readings(SENSOR, fromMs, toMs)).toEqual([]);
    expect((await store.series(ask)).count).toEqual([16]);
    await store.close();
  });

  it('does not undo a minute when one of its readings comes after they were deleted', async () => {
    const file = freshFile();
    let store = await openSqliteStore(file, { retention: { secondsDays: 1 } });
    await store.commit(
      [0, 1, 2, 3].map((k) => madeReading(k, 1)),
      1,
    );
    await store.commit([madeReading(86_400 * 5, 1)], 2);
    const nowMs = madeReading(86_400 * 5, 1).startMs;
    while (await store.prune(nowMs));
    await store.close();
    store = await openSqliteStore(file, { retention: { secondsDays: 1 } });
    // One minute is rolled up and gone, the other was never seen: history filled in later is still taken.
    await store.commit([madeReading(4, 1), madeReading(60, 1)], 3);
    await store.commit([madeReading(86_400 * 5 + 60, 1)], 4);
    const from = madeReading(0, 1).startMs;
    const ask = {
      sensor: SENSOR,
      value: 'kurtosis',
      axis: 'x',
      fromMs: from,
      toMs: from + 120_000,
      maxPoints: 2,
    } as const;
    expect((await store.series(ask)).count).toEqual([4, 1]);
    await store.close();
  });

  it('deletes in small batches', async () => {
    const store = await openSqliteStore(freshFile(), { retention: { secondsDays: 1 } });
    await store.commit(
      Array.from({ length: 5000 }, (_, k) => madeReading(k, 1)),
      1,
    );
    const nowMs = madeReading(0, 1).startMs + 3 * DAY_MS;
    const left = async () => (await store.readings(SENSOR, 0, 1e15)).length;
    expect(await store.prune(nowMs)).toBe(true);
    // Whole minutes.
    expect(await left()).toBe(5000 - 34 * 60);
    while (await store.prune(nowMs));
    expect(await left()).toBeLessThanOrEqual(60);
    await store.close();
  });
});

describe('a readings file that cannot be used', () => {
  const opening = (file: string) => openSqliteStore(file);

  it('names a missing folder', async () => {
    await expect(opening(join(folder, 'nowhere', 'r.sqlite'))).rejects.toMatchObject({
      code: 'READINGS_FOLDER_MISSING',
      remedy: expect.stringContaining('folder'),
    });
  });

  it('tells a file that is no SQLite file, for writing and reading, and leaves it as it is', async () => {
    const file = freshFile();
    writeFileSync(file, 'this is a text file, long enough to be no empty database '.repeat(20));
    await expect(opening(file)).rejects.toMatchObject({ code: 'READINGS_CORRUPT' });
    await expect(openReadingReader(file).latest()).rejects.toMatchObject({ code: 'READINGS_CORRUPT' });
    expect(existsSync(`${file}-wal`)).toBe(false);
  });

  it('tells a damaged file', async () => {
    const file = freshFile();
    const store = await opening(file);
    await store.commit(
      Array.from({ length: 500 }, (_, k) => madeReading(k, 1)),
      1,
    );
    await store.close();
    const db = new Database(file);
    const { page_count: pages } = db.prepare('PRAGMA page_count').get() as { page_count: number };
    db.close();
    const handle = await open(file, 'r+');
    for (let page = 1; page < pages; page++)
      await handle.write(Buffer.alloc(4096, 0xa5), 0, 4096, page * 4096);
    await handle.close();
    const work = async () => {
      const broken = await opening(file);
      try {
        await broken.readings(SENSOR, 0, 1e15);
      } finally {
        await broken.close();
      }
    };
    await expect(work()).rejects.toMatchObject({
      code: 'READINGS_CORRUPT',
      remedy: expect.stringContaining('backup'),
    });
  });

  it('tells a file of something else', async () => {
    const file = freshFile();
    const other = new Database(file);
    other.exec('CREATE TABLE people (name)');
    other.close();
    await expect(opening(file)).rejects.toMatchObject({ code: 'READINGS_FOREIGN' });
    await expect(openReadingReader(file).latest()).rejects.toMatchObject({ code: 'READINGS_FOREIGN' });
  });

  it('tells a file of a newer version', async () => {
    const file = freshFile();
    await (await opening(file)).close();
    const db = new Database(file);
    db.pragma('user_version = 99');
    db.close();
    await expect(opening(file)).rejects.toMatchObject({ code: 'READINGS_NEWER' });
    await expect(openReadingReader(file).latest()).rejects.toMatchObject({ code: 'READINGS_NEWER' });
  });

  // Root may write everywhere, so a folder in place of the file stands for one that cannot be opened.
  it('tells a path that cannot be opened', async () => {
    const path = freshFile();
    mkdirSync(path);
    await expect(opening(path)).rejects.toMatchObject({ code: 'READINGS_READ_ONLY' });
  });

  it.skipIf(process.getuid?.() === 0)('tells a file that may not be written', async () => {
    const file = freshFile();
    await (await opening(file)).close();
    chmodSync(file, 0o400);
    await expect(opening(file)).rejects.toMatchObject({ code: 'READINGS_READ_ONLY' });
  });

  it('tells a locked file, and goes on when the lock is gone', async () => {
    const file = freshFile();
    const store = await openSqliteStore(file, { busyMs: 20 });
    const other = new Database(file);
    other.exec('BEGIN IMMEDIATE');
    await expect(store.commit([madeReading(0, 1)], 1)).rejects.toMatchObject({ code: 'READINGS_LOCKED' });
    other.exec('ROLLBACK');
    other.close();
    await store.commit([madeReading(0, 1)], 1);
    expect(await store.latest()).toHaveLength(1);
    await store.close();
  });

  it('stops the first writer when a second begins', async () => {
    const file = freshFile();
    const first = await opening(file);
    const second = await opening(file);
    await expect(first.commit([madeReading(0, 1)], 1)).rejects.toMatchObject({ code: 'READINGS_TAKEN_OVER' });
    await second.commit([madeReading(0, 2)], 1);
    expect((await first.latest())[0]!.axes[0]!.velocityRmsMmPerS).toBe(2);
    await first.close();
    await second.close();
  });
});
