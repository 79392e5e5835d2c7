import { describe, expect, it } from 'vitest';
import { forecast } from '../../../collector/trend/forecast.ts';
import { GROWTH_SHAPES, onShape, stretch } from '../../../collector/trend/growth-shape.ts';
import { drift, followLine } from '../../../collector/trend/local-line.ts';
import { ratioOfDb } from '../../../collector/trend/robust.ts';
import { calibrateAll, calibrateArrested, coverage } from '../../validate/trend-forecast.ts';
import { autoregression, DAY_MS, take } from './noise.ts';

const ask = (db: number[], limitDb: number, seed = 1) =>
  forecast({
    levels: db.map((value, k) => ({ timeMs: k * DAY_MS, value: ratioOfDb(value) })),
    limit: ratioOfDb(limitDb),
    baselineMedian: 1,
    seed,
  });

/** 20 days of rest, then 0.1 dB a day. */
const rising = (days: number, seed = 1, noiseDb = 0.3) => {
  const noise = autoregression(seed, 0.2);
  return take(days, (k) => Math.max(0, 0.1 * (k - 20)) + noiseDb * noise());
};

describe('growth shapes', () => {
  it.each(GROWTH_SHAPES)('shape %i is dB near the baseline, and its stretch is its slope', (shape) => {
    expect(onShape(0.01, shape)).toBeCloseTo(0.01, 4);
    for (const db of [-3, 2, 9]) {
      expect((onShape(db + 1e-5, shape) - onShape(db - 1e-5, shape)) / 2e-5).toBeCloseTo(
        stretch(db, shape),
        6,
      );
    }
  });
});

describe('line that wanders', () => {
  it('is least squares when it does not wander', () => {
    const y = take(30, autoregression(3, 0)).map((v, k) => v + 0.5 * k);
    const { state } = followLine(
      take(30, (k) => k),
      y,
      y.map(() => 1),
      { level: 0, slope: 0 },
      1e3,
      3,
    );
    const mean = y.reduce((sum, v) => sum + v, 0) / 30;
    const slope = y.reduce((sum, v, k) => sum + (k - 14.5) * (v - mean), 0) / ((30 * (30 ** 2 - 1)) / 12);
    expect(state.slope).toBeCloseTo(slope, 2);
    expect(state.level).toBeCloseTo(mean + 14.5 * slope, 1);
  });

  it('grows uncertain alike whether it drifts in one step or in ten', () => {
    const start = { level: 1, slope: 2, pLevel: 0.3, pCross: 0.1, pSlope: 0.2 };
    const wander = { level: 0.5, slope: 0.7 };
    let many = start;
    for (let k = 0; k < 10; k++) many = drift(many, 0.1, wander);
    const once = drift(start, 1, wander);
    for (const key of ['level', 'slope', 'pLevel', 'pCross', 'pSlope'] as const) {
      expect(many[key]).toBeCloseTo(once[key], 10);
    }
  });
});

describe('forecast', () => {
  it('names a range that holds the day a steady rise reaches the limit', () => {
    const answer = ask(rising(80), 8);
    expect(answer.kind).toBe('range');
    if (answer.kind !== 'range') return;
    expect(answer.fromMs).toBeLessThan(100 * DAY_MS);
    expect(answer.toMs).toBeGreaterThan(100 * DAY_MS);
    expect(answer.middleMs).toBeGreaterThan(answer.fromMs);
    expect(ask(rising(80), 8)).toEqual(answer);
  });

  it('widens with distance and with scatter', () => {
    const width = (answer: ReturnType<typeof ask>) =>
      answer.kind === 'range' ? answer.toMs - answer.fromMs : Number.NaN;
    expect(width(ask(rising(90), 11))).toBeGreaterThan(1.5 * width(ask(rising(90), 8)));
    expect(width(ask(rising(90, 1, 1.2), 9))).toBeGreaterThan(width(ask(rising(90, 1, 0.2), 9)));
  });

  it('says why it cannot say', () => {
    const reason = (answer: ReturnType<typeof ask>) =>
      answer.kind === 'cannot-say-yet' ? answer.reason : answer.kind;
    expect(reason(ask(rising(8), 8))).toBe('too-few-runs');
    expect(reason(ask(take(60, autoregression(2, 0.3)), 8))).toBe('no-significant-rise');
    expect(reason(ask(rising(50), 12))).toBe('limit-too-far');
    const levelled = take(60, (k) => Math.min(4, 0.1 * k)).map((v, k) => v + 0.4 * Math.sin(k * k));
    expect(reason(ask(levelled, 7))).toBe('no-longer-rising');
  });

  it('says since when a limit is reached', () => {
    const answer = ask(rising(120), 8);
    expect(answer.kind).toBe('reached');
    if (answer.kind === 'reached') expect(Math.abs(answer.sinceMs / DAY_MS - 100)).toBeLessThan(6);
  });
});

describe('calibration on simulated lives (short)', () => {
  // 14 laws unlike the ensemble's, 100 lives each; the long version is in tests/validate.
  const results = calibrateAll(100, 70_000, ['other', 'unlike', 'fresh', 'last']);

  it('the 80 % range holds 80 +- 5 % of the true days, all laws together, allowing for so few ranges', () => {
    const given = results.reduce((sum, result) => sum + result.given, 0);
    expect(given).toBeGreaterThan(250);
    // The mean over laws of about 500 ranges is itself uncertain to two standard errors of about 2 %.
    expect(coverage(results)).toBeGreaterThan(0.75 - 0.04);
    expect(coverage(results)).toBeLessThan(0.85 + 0.04);
  });

  it('refuses often, and by no law ever always', () => {
    for (const { given, asked } of results) {
      expect(given).toBeGreaterThan(0);
      expect(given / asked).toBeLessThan(0.95);
    }
  });

  it('most wear that stops for good gets no date', () => {
    const stopped = calibrateArrested(150, 71_000);
    expect(stopped.given / stopped.asked).toBeLessThan(0.5);
  });
});
