import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, describe, expect, it } from 'vitest';
import {
  type CopyProgress,
  compareHistory,
  copyHistory,
  type HistoryTarget,
} from '../../../collector/store/migration-copy.ts';
import { sqliteHistorySource, sqliteHistoryTarget } from '../../../collector/store/migration-copy-sqlite.ts';
import type { SeriesQuery } from '../../../collector/store/reading-store.ts';
import { openReadingReader } from '../../../collector/store/sqlite-reader.ts';
import { openSqliteStore } from '../../../collector/store/sqlite-store.ts';
import { madeReading } from './reading-store-contract.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-copy-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
let files = 0;
const fresh = () => join(folder, `${files++}.sqlite`);
const ALL = Number.POSITIVE_INFINITY;
const SENSORS = [
  { nodeId: '00000000000000b1', sensor: 0 },
  { nodeId: '00000000000000b1', sensor: 3 },
  { nodeId: '00000000000000b2', sensor: 0 },
];
const SECONDS = 9000;
const BEGIN_MS = madeReading(0, 1).startMs;

async function filled(): Promise<string> {
  const file = fresh();
  const store = await openSqliteStore(file);
  for (const [index, sensor] of SENSORS.entries()) {
    const readings = Array.from({ length: SECONDS - index * 500 }, (_, k) =>
      madeReading(k, 1 + (k % 13), { ...sensor, flags: k % 100 === 3 ? ['gap'] : [] }),
    );
    await store.commit(readings, 1);
  }
  await store.close();
  return file;
}

const nothing = { save: async () => {}, onProgress: () => {} };

async function seriesOf(file: string) {
  const reader = openReadingReader(file);
  const values: unknown[] = [];
  for (const sensor of SENSORS) {
    for (const value of ['velocityRmsMmPerS', 'accelerationPeakMPerS2', 'kurtosis'] as const) {
      for (const maxPoints of [3, 50, 2000]) {
        const query: SeriesQuery = {
          sensor,
          value,
          axis: 'highest',
          fromMs: BEGIN_MS,
          toMs: BEGIN_MS + 3 * 3_600_000,
          maxPoints,
        };
        values.push(await reader.series(query));
      }
    }
  }
  await reader.close();
  return values;
}

/** A target that stops after so many batches, as a process that is killed does. */
function mortal(target: HistoryTarget, batches: number): HistoryTarget {
  return {
    ...target,
    async put(...batch) {
      if (batches-- <= 0) throw new Error('killed');
      await target.put(...batch);
    },
  };
}

describe('copying a history', () => {
  it('gives a file that answers as the first one, and tells how far it is', async () => {
    const from = await filled();
    const to = fresh();
    const source = sqliteHistorySource(from)!;
    const target = sqliteHistoryTarget(to);
    const seen: CopyProgress[] = [];
    await copyHistory(source, target, {
      untilS: ALL,
      checkpoint: {},
      save: async () => {},
      onProgress: (p) => seen.push(p),
    });
    expect(await compareHistory(source, target, ALL)).toEqual([]);
    source.close();
    target.close();
    expect(await seriesOf(to)).toEqual(await seriesOf(from));
    const { doneRows, totalRows } = seen.at(-1)!;
    expect(doneRows).toBe(totalRows);
    // Seconds, minutes but the open one, hours that are over, of the three sensors.
    expect(totalRows).toBe(9000 + 8500 + 8000 + 149 + 141 + 133 + 2 + 2 + 2);
    expect(seen.map((p) => p.doneRows)).toEqual([...seen.map((p) => p.doneRows)].sort((a, b) => a - b));
  });

  it('goes on where it was broken off, and copies nothing twice', async () => {
    const from = await filled();
    const to = fresh();
    const source = sqliteHistorySource(from)!;
    const target = sqliteHistoryTarget(to);
    let saved: Record<string, number> = {};
    let put = 0;
    const counted: HistoryTarget = {
      ...target,
      async put(sensor, batch) {
        put += batch.rows.length;
        await target.put(sensor, batch);
      },
    };
    const save = async (checkpoint: Record<string, number>) => {
      saved = { ...checkpoint };
    };
    for (const batches of [0, 1, 4, 2, 7]) {
      const run = copyHistory(source, mortal(counted, batches), {
        untilS: ALL,
        checkpoint: saved,
        save,
        onProgress: () => {},
      });
      await expect(run).rejects.toThrow('killed');
    }
    await copyHistory(source, counted, { untilS: ALL, checkpoint: saved, save, onProgress: () => {} });
    expect(await compareHistory(source, target, ALL)).toEqual([]);
    expect(put).toBe(9000 + 8500 + 8000 + 149 + 141 + 133 + 2 + 2 + 2);
    source.close();
    target.close();
  });

  it('names the day and sensor that differ', async () => {
    const from = await filled();
    const to = fresh();
    const source = sqliteHistorySource(from)!;
    const target = sqliteHistoryTarget(to);
    await copyHistory(source, target, { untilS: ALL, checkpoint: {}, ...nothing });
    const db = new Database(to);
    db.exec('DELETE FROM reading WHERE sensor_id = 2 AND second % 1000 = 0');
    db.close();
    expect(await compareHistory(source, target, ALL)).toEqual([
      { level: 'second', sensor: SENSORS[1], day: '2025-10-09', from: 8500, to: 8500 - 8 },
    ]);
    source.close();
    target.close();
  });

  it('leaves what the target has: a first reading stays, a fuller minute too', async () => {
    const from = await filled();
    const to = fresh();
    const store = await openSqliteStore(to);
    await store.commit([madeReading(0, 77), madeReading(200, 1)], 1);
    await store.close();
    const source = sqliteHistorySource(from)!;
    const target = sqliteHistoryTarget(to);
    await copyHistory(source, target, { untilS: ALL, checkpoint: {}, ...nothing });
    source.close();
    target.close();
    const reader = openReadingReader(to);
    const [first] = await reader.readings(SENSORS[0]!, BEGIN_MS, BEGIN_MS + 1000);
    expect(first!.axes[0]!.velocityRmsMmPerS).toBe(77);
    const series = await reader.series({
      sensor: SENSORS[0]!,
      value: 'kurtosis',
      axis: 'x',
      fromMs: BEGIN_MS,
      toMs: BEGIN_MS + 3_600_000,
      maxPoints: 60,
    });
    expect(series.count.every((count) => count === 60)).toBe(true);
    await reader.close();
  });

  it('gives a file that a store goes on with', async () => {
    const from = await filled();
    const to = fresh();
    const source = sqliteHistorySource(from)!;
    const target = sqliteHistoryTarget(to);
    await copyHistory(source, target, { untilS: ALL, checkpoint: {}, ...nothing });
    source.close();
    target.close();
    for (const file of [from, to]) {
      const store = await openSqliteStore(file);
      await store.commit(
        Array.from({ length: 4000 }, (_, k) => madeReading(SECONDS + k, 2)),
        2,
      );
      await store.close();
    }
    expect(await seriesOf(to)).toEqual(await seriesOf(from));
  });

  it('leaves out what is not over at the time given', async () => {
    const from = await filled();
    const source = sqliteHistorySource(from)!;
    const target = sqliteHistoryTarget(fresh());
    const untilS = BEGIN_MS / 1000 + 3700;
    await copyHistory(source, target, { untilS, checkpoint: {}, ...nothing });
    expect(await compareHistory(source, target, untilS)).toEqual([]);
    expect([...(await target.counts('second', SENSORS[0]!, ALL)).values()]).toEqual([3700]);
    expect([...(await target.counts('minute', SENSORS[0]!, ALL)).values()]).toEqual([61]);
    expect([...(await target.counts('hour', SENSORS[0]!, ALL)).values()]).toEqual([1]);
    source.close();
    target.close();
  });
});
