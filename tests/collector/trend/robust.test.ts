import { describe, expect, it } from 'vitest';
import { uniform } from '../../../collector/trend/random.ts';
import {
  blockBootstrap,
  blockLength,
  blockResample,
  lag1,
  levelDb,
  mad,
  median,
  preWhiten,
  quantile,
  ratioOfDb,
  robustSd,
} from '../../../collector/trend/robust.ts';
import { autoregression, take } from './noise.ts';

describe('robust statistics', () => {
  it('one wild value moves neither median nor MAD far', () => {
    expect(median([1, 2, 3, 4, 1e9])).toBe(3);
    expect(mad([1, 2, 3, 4, 1e9])).toBe(1);
  });

  it('scale with the values and do not see a shift', () => {
    const values = take(31, autoregression(1, 0));
    expect(mad(values.map((v) => 3 * v + 7))).toBeCloseTo(3 * mad(values), 12);
    expect(quantile(values, 0)).toBe(Math.min(...values));
    expect(quantile(values, 1)).toBe(Math.max(...values));
  });

  it.each([2, 5, 8, 12])('the spread of %i Gaussian values is right on average', (count) => {
    const source = autoregression(count, 0);
    const spreads = take(20000, () => robustSd(take(count, source)));
    expect(spreads.reduce((sum, v) => sum + v, 0) / spreads.length).toBeCloseTo(1, 1);
  });

  it('refuses nothing at all', () => {
    expect(() => median([])).toThrow(/at least one value/);
    expect(() => robustSd([1])).toThrow(/at least two/);
  });

  it('decibels and ratios undo each other; 6.02 dB is twofold', () => {
    expect(levelDb(2, 1)).toBeCloseTo(6.0206, 4);
    expect(ratioOfDb(levelDb(3.7, 1.2))).toBeCloseTo(3.7 / 1.2, 12);
  });
});

describe('likeness of neighbours', () => {
  it.each([0.3, 0.6])('lag-1 correlation of %f is found, from 20 values and from 200', (r) => {
    for (const count of [20, 200]) {
      const found = take(600, (seed) => lag1(take(count, autoregression(seed, r))));
      expect(Math.abs(found.reduce((sum, v) => sum + v, 0) / found.length - r)).toBeLessThan(0.06);
    }
  });

  it('pre-whitening takes it out and keeps slope and step', () => {
    const source = autoregression(5, 0.7);
    expect(lag1(preWhiten(take(4000, source), 0.7))).toBeLessThan(0.05);
    expect(preWhiten([0, 2, 4, 6], 0.5)).toEqual([4, 6, 8]);
  });

  it('blocks are as long as the likeness asks for, and are kept whole', () => {
    expect(blockLength(60, 0)).toBe(1);
    expect(blockLength(60, 0.6)).toBeGreaterThan(blockLength(60, 0.3));
    expect(blockLength(12, 0.95)).toBe(4);
    const places = blockResample(50, 5, uniform(3));
    expect(places).toHaveLength(50);
    for (let i = 0; i < 50; i++) if (i % 5 !== 0) expect(places[i]).toBe(places[i - 1]! + 1);
  });

  it('the block bootstrap knows that a mean of alike values is less certain', () => {
    const values = take(400, autoregression(8, 0.6));
    const mean = (v: number[]) => v.reduce((sum, x) => sum + x, 0) / v.length;
    const sdOf = (block: number) => {
      const means = [...blockBootstrap(values, mean, { block, resamples: 600, next: uniform(1) })];
      return Math.sqrt(mean(means.map((m) => (m - mean(means)) ** 2)));
    };
    // Theory: sqrt((1 + r) / (1 - r)) = 2 times that of independent values, 1 / sqrt(400).
    expect(sdOf(1)).toBeLessThan(0.065);
    expect(sdOf(blockLength(400, 0.6))).toBeGreaterThan(0.075);
    expect(sdOf(blockLength(400, 0.6))).toBeLessThan(0.125);
  });
});
