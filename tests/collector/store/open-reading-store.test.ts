import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import {
  openReadingStore,
  openStationReader,
  type StoreChoice,
} from '../../../collector/store/open-reading-store.ts';
import { madeReading } from './reading-store-contract.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-open-store-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
let files = 0;
const fresh = () => join(folder, `${files++}.sqlite`);
const AWAY: StoreChoice = { kind: 'influx', url: 'http://127.0.0.1:1', token: 't', org: 'o', bucket: 'b' };
const SENSOR = { nodeId: '00000000000000b1', sensor: 0 };

describe('opening the store of readings', () => {
  it('keeps them in the file when nothing else is chosen', async () => {
    const readingsFile = fresh();
    const store = await openReadingStore({ readingsFile, site: 'depot' });
    await store.commit([madeReading(0, 1)], 1);
    const reader = openStationReader({ readingsFile, site: 'depot' });
    expect(await reader.readings(SENSOR, 0, 1e15)).toHaveLength(1);
    await reader.close();
    await store.close();
  });

  it('reads from the file, and says so once, while the database is away', async () => {
    const readingsFile = fresh();
    const store = await openReadingStore({ store: AWAY, readingsFile, site: 'depot' });
    await store.commit(
      [0, 1, 2].map((k) => madeReading(k, k)),
      1,
    );
    const warnings: string[] = [];
    const log = { info: () => {}, warn: (message: string) => void warnings.push(message) };
    const reader = openStationReader({ store: AWAY, readingsFile, site: 'depot' }, { log });
    expect(await reader.latest()).toHaveLength(1);
    expect(await reader.readings(SENSOR, 0, 1e15)).toHaveLength(3);
    const fromMs = madeReading(0, 1).startMs;
    const query = {
      sensor: SENSOR,
      value: 'kurtosis',
      axis: 'x',
      fromMs,
      toMs: fromMs + 3000,
      maxPoints: 3,
    } as const;
    expect((await reader.series(query)).count).toEqual([1, 1, 1]);
    expect(warnings).toHaveLength(1);
    await reader.close();
    await store.close();
  });

  it.each([
    [{ url: 'ftp://somewhere' }, /http/],
    [{ url: 'nothing' }, /http/],
    [{ token: '' }, /token/],
    [{ bucket: 'a\nb' }, /bucket/],
    [{ timeoutMs: 0 }, /timeoutMs/],
    [{ keepDays: { second: 0 } }, /keepDays/],
  ])('refuses an InfluxDB with %j', async (wrong, reason) => {
    const opening = openReadingStore({ store: { ...AWAY, ...wrong }, readingsFile: fresh(), site: 'depot' });
    await expect(opening).rejects.toMatchObject({
      code: 'COLLECTOR_BAD_SETTING',
      message: expect.stringMatching(reason),
    });
  });

  it('names a missing folder', async () => {
    const opening = openReadingStore({ readingsFile: join(folder, 'none', 'r.sqlite'), site: 'depot' });
    await expect(opening).rejects.toMatchObject({ code: 'READINGS_FOLDER_MISSING' });
  });
});
