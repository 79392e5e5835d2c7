import { describe, expect, it } from 'vitest';
import { baseline } from '../../../collector/trend/baseline.ts';
import { ratioOfDb } from '../../../collector/trend/robust.ts';
import { runSummary } from '../../../collector/trend/run-summary.ts';
import { autoregression, DAY_MS, take } from './noise.ts';

const levels = (db: number[]) => db.map((value, k) => ({ timeMs: k * DAY_MS, value: 2 * ratioOfDb(value) }));

describe('run summary', () => {
  const readings = (values: (number | null)[]) =>
    values.map((value, k) => ({ timeMs: k * 1000, value, flagged: false }));

  it('is the median and the energy mean of what may be used', () => {
    const run = runSummary([
      ...readings([1, 1, 1, 7, 1, 1, 1, 1, 1, 1, 1]),
      { timeMs: 11000, value: 99, flagged: true },
    ]);
    expect(run).toMatchObject({ median: 1, mad: 0, used: 11, readings: 12, refused: null, toMs: 11000 });
    expect(run.energyMean).toBeCloseTo(Math.sqrt((10 + 49) / 11), 12);
    expect(run.leftOutShare).toBeCloseTo(1 / 12, 12);
  });

  it('refuses runs too short or with too much left out, and says so', () => {
    expect(runSummary(readings([1, 2, 3])).refused).toBe('too-few-readings');
    expect(runSummary(readings([...take(10, () => 1), ...Array<null>(6).fill(null)])).refused).toBe(
      'too-many-left-out',
    );
    expect(runSummary(readings([null, null]))).toMatchObject({ median: null, medianSd: null, used: 0 });
    expect(() => runSummary([])).toThrow(/needs readings/);
  });

  it('its standard error is that of a median, larger for seconds alike', () => {
    const sd = (r: number) =>
      take(
        40,
        (seed) => runSummary(readings(take(100, autoregression(seed, r)).map((v) => v + 50))).medianSd!,
      ).reduce((sum, v) => sum + v, 0) / 40;
    // Theory for independent values: 1.2533 / sqrt(100).
    expect(sd(0)).toBeGreaterThan(0.1);
    expect(sd(0)).toBeLessThan(0.15);
    expect(sd(0.5)).toBeGreaterThan(0.15);
  });
});

describe('baseline', () => {
  it('cannot be said from fewer than eight runs, and says how many are missing', () => {
    expect(baseline(levels([0, 0, 0, 0, 0]))).toEqual({
      known: false,
      runsMissing: 3,
      reason: 'too-few-runs',
    });
  });

  it('is median and spread of the first twelve runs, whatever comes later', () => {
    const noise = take(12, autoregression(3, 0));
    const early = baseline(levels(noise));
    const late = baseline(levels([...noise, ...take(30, () => 12)]));
    expect(late).toEqual(early);
    expect(early).toMatchObject({ known: true, runs: 12, rising: false, passedOver: 0 });
    if (early.known) expect(early.spreadDb).toBeGreaterThan(0.4);
    if (early.known) expect(early.median).toBeCloseTo(2, 0);
  });

  it('does not believe in a spread of nothing', () => {
    const found = baseline(levels(take(9, () => 0)));
    expect(found.known && found.spreadDb).toBe(0.1);
  });

  it('waits while new parts bed in, and is then the steady level', () => {
    const noise = autoregression(6, 0);
    const bedding = take(40, (k) => 5 * Math.exp(-k / 5) + 0.2 * noise());
    const found = baseline(levels(bedding));
    expect(found).toMatchObject({ known: true, rising: false });
    if (found.known) expect(found.passedOver).toBeGreaterThan(2);
    if (found.known) expect(found.median).toBeLessThan(2 * ratioOfDb(1));
    expect(baseline(levels(bedding.slice(0, 9)))).toMatchObject({ known: false, reason: 'bedding-in' });
  });

  it('reports a level that rises already', () => {
    expect(baseline(levels(take(12, (k) => 0.4 * k)))).toMatchObject({ known: true, rising: true });
  });
});
