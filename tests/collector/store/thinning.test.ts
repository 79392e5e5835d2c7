import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { openSqliteStore } from '../../../collector/store/sqlite-store.ts';
import { madeReading } from './reading-store-contract.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-thinning-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const SENSOR = { nodeId: '00000000000000b1', sensor: 0 };
const HOURS = 12;
const MIB = 1024 * 1024;

async function filled(file: string, maxBytes: number | null) {
  const store = await openSqliteStore(join(folder, file), { retention: { maxBytes } });
  const nowMs = madeReading(HOURS * 3600, 1).startMs;
  for (let hour = 0; hour < HOURS; hour++) {
    const readings = Array.from({ length: 3600 }, (_, k) => madeReading(hour * 3600 + k, 1));
    await store.commit([...readings, ...readings.map((one) => ({ ...one, sensor: 1 }))], hour);
    for (let rounds = 0; await store.prune(nowMs); rounds++) expect(rounds).toBeLessThan(100);
  }
  return { store, nowMs, bytes: () => statSync(join(folder, file)).size };
}

describe('disk budget of the readings file', () => {
  it('drops the oldest seconds, keeps minutes and hours, and the file stops growing', async () => {
    const free = await filled('free.sqlite', null);
    await free.store.close();
    const { store, nowMs, bytes } = await filled('bound.sqlite', 3 * MIB);
    const seconds = await store.readings(SENSOR, 0, 1e15);
    expect(seconds.length).toBeLessThan(HOURS * 3600);
    expect(seconds.length).toBeGreaterThanOrEqual(3600);
    expect(seconds.at(-1)!.startMs).toBe(nowMs - 1000);
    const other = await store.readings({ ...SENSOR, sensor: 1 }, 0, 1e15);
    expect(Math.abs(other[0]!.startMs - seconds[0]!.startMs)).toBeLessThanOrEqual(3_600_000);
    for (const maxPoints of [HOURS, HOURS * 60]) {
      const series = await store.series({
        sensor: SENSOR,
        value: 'velocityRmsMmPerS',
        axis: 'x',
        fromMs: madeReading(0, 1).startMs,
        toMs: nowMs,
        maxPoints,
      });
      expect(series.count.reduce((a, b) => a + b)).toBe(HOURS * 3600);
    }
    await store.close();
    // An hour of two sensors comes before it is thinned.
    expect(bytes()).toBeLessThan(4.5 * MIB);
    expect(free.bytes()).toBeGreaterThan(6 * MIB);
  });

  it('keeps the newest hour of every sensor however small the budget, then thins minutes', async () => {
    const { store, nowMs } = await filled('tiny.sqlite', 1);
    const seconds = await store.readings(SENSOR, 0, 1e15);
    expect(nowMs - seconds[0]!.startMs).toBeLessThanOrEqual(2 * 3_600_000);
    expect(seconds.length).toBeGreaterThanOrEqual(3600);
    const hours = await store.series({
      sensor: SENSOR,
      value: 'kurtosis',
      axis: 'y',
      fromMs: madeReading(0, 1).startMs,
      toMs: nowMs,
      maxPoints: HOURS,
    });
    expect(hours.count).toEqual(Array.from({ length: HOURS }, () => 3600));
    await store.close();
  });

  it('does not undo a thinned minute or hour when one of its readings comes late', async () => {
    const { store, nowMs } = await filled('late.sqlite', 1);
    await store.commit([madeReading(5, 9)], 99);
    await store.commit([madeReading(HOURS * 3600, 1)], 100);
    const series = await store.series({
      sensor: SENSOR,
      value: 'accelerationPeakMPerS2',
      axis: 'x',
      fromMs: madeReading(0, 1).startMs,
      toMs: nowMs,
      maxPoints: HOURS,
    });
    expect(series.count[0]).toBe(3600);
    await store.close();
  });
});
