import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { kendall } from '../../../collector/trend/mann-kendall.ts';
import { bivariateUpperTail, normalQuantile, normalUpperTail } from '../../../collector/trend/normal.ts';
import { mad, quantile } from '../../../collector/trend/robust.ts';
import { theilSen } from '../../../collector/trend/theil-sen.ts';
import { instants, integers, series } from './reference-integers.ts';

interface Row {
  seed: number;
  count: number;
  modulus: number;
  rise: number;
  confidence: number;
  slope: number;
  intercept: number;
  low: number;
  high: number;
  tau: number;
  pValue: number;
  z: number;
  upper: number;
  a: number;
  b: number;
  correlation: number;
  share: number;
  value: number;
}

/** Written by tests/golden/trend.py with scipy; each list fills the fields it has. */
const golden: Record<'slopes' | 'tau' | 'tails' | 'bivariate' | 'quantiles' | 'mad', Row[]> = JSON.parse(
  readFileSync(new URL('../../golden/trend.json', import.meta.url), 'utf8'),
);

describe('same numbers as scipy and numpy', () => {
  it.each(golden.slopes)('scipy.stats.theilslopes, $count points, modulus $modulus', (row: Row) => {
    const line = theilSen(
      instants(row.seed + 100, row.count),
      series(row.seed, row.count, row.modulus, row.rise),
      row.confidence,
    );
    expect(line.slope).toBeCloseTo(row.slope, 9);
    expect(line.intercept).toBeCloseTo(row.intercept, 9);
    expect(line.low).toBeCloseTo(row.low, 9);
    expect(line.high).toBeCloseTo(row.high, 9);
  });

  it.each(golden.tau)('scipy.stats.kendalltau, $count points, modulus $modulus', (row: Row) => {
    const y = series(row.seed, row.count, row.modulus, row.rise);
    const { tau, pValue } = kendall(
      y.map((_, k) => k),
      y,
    );
    expect(tau).toBeCloseTo(row.tau, 12);
    expect(pValue / row.pValue).toBeCloseTo(1, 9);
  });

  it.each(golden.tails)('scipy.stats.norm.sf($z)', ({ z, upper }: Row) => {
    expect(normalUpperTail(z) / upper).toBeCloseTo(1, 11);
    if (Math.abs(z) < 8) expect(normalQuantile(1 - upper)).toBeCloseTo(z, z > 5 ? 4 : 8);
  });

  it.each(golden.bivariate)('scipy.stats.multivariate_normal at $a, $b, r = $correlation', (row: Row) => {
    // scipy integrates this one numerically, to about 1e-5.
    expect(Math.abs(bivariateUpperTail(row.a, row.b, row.correlation) - row.upper)).toBeLessThan(2e-5);
  });

  it.each(golden.quantiles)(
    'numpy.quantile, $count values at $share',
    ({ seed, count, share, value }: Row) => {
      expect(quantile(integers(seed, count, 1000), share)).toBeCloseTo(value, 12);
    },
  );

  it.each(golden.mad)('scipy.stats.median_abs_deviation, $count values', ({ seed, count, value }: Row) => {
    expect(mad(integers(seed, count, 1000))).toBe(value);
  });
});
