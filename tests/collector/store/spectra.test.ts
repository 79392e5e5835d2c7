import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, describe, expect, it } from 'vitest';
import type { BlockSpectrum, Flag, Reading } from '../../../collector/model.ts';
import { MIGRATIONS } from '../../../collector/store/sqlite-migrations.ts';
import { openReadingReader } from '../../../collector/store/sqlite-reader.ts';
import { openSqliteStore } from '../../../collector/store/sqlite-store.ts';
import { madeReading } from './reading-store-contract.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-spectra-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
let files = 0;
const freshFile = () => join(folder, `${files++}.sqlite`);

const SENSOR = { nodeId: '00000000000000b1', sensor: 0 };
const BEGIN_MS = madeReading(0, 1).startMs;
const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

const spectrumOf = (reading: Reading, level: number, extra: Partial<BlockSpectrum> = {}): BlockSpectrum => ({
  nodeId: reading.nodeId,
  sensor: reading.sensor,
  startMs: reading.startMs,
  axes: ['x', 'y'],
  firstBand: -92,
  density: [Float64Array.of(level, 2 * level, 0), Float64Array.of(level / 10, 1e-9, 1e9)],
  ...extra,
});

/** A second with the spectrum that belongs to it. */
function second(at: number, level: number, flags: Flag[] = []): [Reading, BlockSpectrum] {
  const reading = madeReading(at, 1, { flags });
  return [reading, spectrumOf(reading, level)];
}

async function commit(
  store: Awaited<ReturnType<typeof openSqliteStore>>,
  ...seconds: [Reading, BlockSpectrum][]
) {
  await store.commit(
    seconds.map(([reading]) => reading),
    1,
    undefined,
    seconds.map(([, spectrum]) => spectrum),
  );
}

/** To hundredths of a decibel. */
const expectDensity = (found: number | undefined, expected: number) =>
  expect(Math.abs(10 * Math.log10(found! / expected))).toBeLessThan(0.011);

describe('spectra kept for history', () => {
  it('are the mean over the blocks of each minute, axis by axis, and of any span of minutes', async () => {
    const store = await openSqliteStore(freshFile());
    await commit(store, second(0, 1), second(1, 3));
    await commit(store, second(59, 8), second(60, 100));
    const minute = await store.spectrum(SENSOR, BEGIN_MS, BEGIN_MS + MINUTE_MS);
    expect(minute).toMatchObject({
      fromMs: BEGIN_MS,
      toMs: BEGIN_MS + MINUTE_MS,
      blocks: 3,
      axes: ['x', 'y'],
      firstBand: -92,
    });
    expectDensity(minute!.density[0]![0], 4);
    expectDensity(minute!.density[0]![1], 8);
    expect(minute!.density[0]![2]).toBe(0);
    expectDensity(minute!.density[1]![0], 0.4);
    expectDensity(minute!.density[1]![1], 1e-9);
    expectDensity(minute!.density[1]![2], 1e9);
    const both = await store.spectrum(SENSOR, BEGIN_MS, BEGIN_MS + 2 * MINUTE_MS);
    expect(both!.blocks).toBe(4);
    expectDensity(both!.density[0]![0], 28);
    expect(await store.spectrum(SENSOR, 0, BEGIN_MS)).toBeNull();
    expect(await store.spectrum({ ...SENSOR, sensor: 3 }, 0, 1e15)).toBeNull();
    await store.close();
  });

  it('leave out blocks that something is wrong with, and take the sound one that comes later', async () => {
    const store = await openSqliteStore(freshFile());
    for (const flag of ['clipped', 'gap', 'settling', 'unknown-scale', 'stuck', 'rattle'] as const)
      await commit(store, second(10, 1000, [flag]));
    expect(await store.spectrum(SENSOR, 0, 1e15)).toBeNull();
    await commit(store, second(20, 1000, ['gap']), second(21, 1, ['below-noise-floor']));
    await commit(store, second(20, 3));
    const found = await store.spectrum(SENSOR, 0, 1e15);
    expect(found!.blocks).toBe(2);
    expectDensity(found!.density[0]![0], 2);
    await store.close();
  });

  it('count a block once, however often it comes, in pieces, again after a restart, or placed better later', async () => {
    const file = freshFile();
    let store = await openSqliteStore(file);
    await commit(store, second(0, 2), second(1, 4));
    await commit(store, second(1, 4), second(2, 6), second(2, 6));
    await store.close();
    store = await openSqliteStore(file);
    await commit(store, second(0, 2), second(1, 4), second(2, 6), second(3, 8));
    // Its time was unknown, now it is known: the same second.
    await commit(store, second(4, 10, ['time-unknown']));
    await commit(store, second(4, 10));
    const found = await store.spectrum(SENSOR, 0, 1e15);
    expect(found!.blocks).toBe(5);
    expectDensity(found!.density[0]![0], 6);
    await store.close();
  });

  it('go with their readings: a commit that fails leaves neither', async () => {
    const store = await openSqliteStore(freshFile());
    await commit(store, second(0, 2));
    const [bad, spectrum] = second(1, 50);
    await expect(
      commit(store, second(2, 50), [{ ...bad, startMs: bad.startMs + 1 }, spectrum]),
    ).rejects.toThrow(RangeError);
    await commit(store, second(3, 4));
    const found = await store.spectrum(SENSOR, 0, 1e15);
    expect(found!.blocks).toBe(2);
    expectDensity(found!.density[0]![0], 3);
    await store.close();
  });

  it('are joined over the bands that both have, and never over other axes', async () => {
    const store = await openSqliteStore(freshFile());
    const [reading] = second(0, 1);
    await commit(store, [reading, spectrumOf(reading, 1)]);
    const [next] = second(1, 1);
    await commit(store, [
      next,
      spectrumOf(next, 1, { firstBand: -91, density: [Float64Array.of(6, 0.5), Float64Array.of(1, 1)] }),
    ]);
    const [other] = second(2, 1);
    await commit(store, [other, spectrumOf(other, 9, { axes: ['z'], density: [Float64Array.of(9)] })]);
    const found = await store.spectrum(SENSOR, 0, 1e15);
    expect(found).toMatchObject({ blocks: 2, firstBand: -91, axes: ['x', 'y'] });
    expect(found!.density[0]).toHaveLength(2);
    expectDensity(found!.density[0]![0], 4);
    expectDensity(found!.density[0]![1], 0.25);
    await store.close();
  });

  it('tell the nearest minute kept', async () => {
    const file = freshFile();
    const store = await openSqliteStore(file);
    await commit(store, second(0, 1), second(600, 1));
    const reader = openReadingReader(file);
    const nearest = (atMs: number, toMs = 1e15) => reader.nearestSpectrumMs(SENSOR, atMs, 0, toMs);
    expect(await nearest(BEGIN_MS + 2 * MINUTE_MS)).toBe(BEGIN_MS);
    expect(await nearest(BEGIN_MS + 8 * MINUTE_MS)).toBe(BEGIN_MS + 10 * MINUTE_MS);
    expect(await nearest(BEGIN_MS + 8 * MINUTE_MS, BEGIN_MS + 9 * MINUTE_MS)).toBe(BEGIN_MS);
    expect(await nearest(0)).toBe(BEGIN_MS);
    expect(await reader.nearestSpectrumMs({ ...SENSOR, sensor: 9 }, 0, 0, 1e15)).toBeNull();
    await reader.close();
    await store.close();
  });

  it('are kept as long as minutes', async () => {
    const store = await openSqliteStore(freshFile(), { retention: { minutesDays: 10, hoursDays: null } });
    await commit(store, second(0, 1), second(4 * 86_400, 2));
    expect(await store.prune(BEGIN_MS + 12 * DAY_MS)).toBe(false);
    const found = await store.spectrum(SENSOR, 0, 1e15);
    expect(found!.blocks).toBe(1);
    expect(found!.fromMs).toBe(BEGIN_MS + 4 * DAY_MS);
    await store.close();
  });

  it('begin in a file from before they were kept', async () => {
    const file = freshFile();
    const old = new Database(file);
    old.exec(MIGRATIONS[0]!);
    old.pragma('application_id = 0x434c7264');
    old.pragma('user_version = 1');
    old.close();
    const store = await openSqliteStore(file);
    await commit(store, second(0, 1));
    expect((await store.spectrum(SENSOR, 0, 1e15))!.blocks).toBe(1);
    await store.close();
  });
});
