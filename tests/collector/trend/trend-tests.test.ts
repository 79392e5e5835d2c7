import { describe, expect, it } from 'vitest';
import { changePoint, pettittPValue } from '../../../collector/trend/change-point.ts';
import { trendTest } from '../../../collector/trend/mann-kendall.ts';
import { uniform } from '../../../collector/trend/random.ts';
import { slopeInterval, theilSen } from '../../../collector/trend/theil-sen.ts';
import { autoregression, take } from './noise.ts';

const days = (count: number) => take(count, (k) => k);

describe('Theil-Sen', () => {
  it('finds a line exactly, and still with every fifth run wild', () => {
    const x = days(20);
    expect(
      theilSen(
        x,
        x.map((t) => 3 * t - 4),
      ),
    ).toMatchObject({ slope: 3, intercept: -4, low: 3, high: 3 });
    const wild = x.map((t) => (t % 5 === 2 ? 500 : 3 * t - 4));
    expect(theilSen(x, wild).slope).toBeCloseTo(3, 1);
  });

  it('turns with the units of time and value', () => {
    const y = take(15, autoregression(2, 0));
    const line = theilSen(days(15), y);
    const scaled = theilSen(
      days(15).map((t) => 10 * t),
      y.map((v) => 4 * v + 1),
    );
    expect(scaled.slope).toBeCloseTo(0.4 * line.slope, 12);
    expect(scaled.high).toBeCloseTo(0.4 * line.high!, 12);
  });

  it('refuses one instant and unequal lengths', () => {
    expect(() => theilSen([1, 1], [1, 2])).toThrow(/two different instants/);
    expect(() => theilSen([1, 2], [1])).toThrow(/as many x as y/);
  });

  it('the interval for runs alike holds the slope where that for independent runs does not', () => {
    const held = { sen: 0, alike: 0 };
    const lives = 150;
    for (let seed = 0; seed < lives; seed++) {
      const y = take(30, autoregression(seed, 0.5)).map((v, k) => v + 0.1 * k);
      const line = theilSen(days(30), y);
      const wide = slopeInterval(days(30), y, { resamples: 150, next: uniform(seed) });
      if (line.low! <= 0.1 && line.high! >= 0.1) held.sen++;
      if (wide.low <= 0.1 && wide.high >= 0.1) held.alike++;
    }
    expect(held.sen / lives).toBeLessThan(0.86);
    expect(held.alike / lives).toBeGreaterThan(0.87);
  });
});

describe('trend test', () => {
  it.each([0, 0.3, 0.6])('calls 5 %% of trendless runs a trend, and not many more, at likeness %f', (r) => {
    const called = take<number>(600, (seed) =>
      trendTest(days(24), take(24, autoregression(seed, r))).pValue < 0.05 ? 1 : 0,
    );
    expect(called.reduce((sum, v) => sum + v, 0) / 600).toBeLessThan(0.11);
  });

  it('sees wear of four spreads over 24 runs', () => {
    const seen = take<number>(200, (seed) => {
      const y = take(24, autoregression(seed, 0.3)).map((v, k) => v + (4 * k) / 24);
      const { pValue, tau } = trendTest(days(24), y);
      return pValue < 0.05 && tau! > 0 ? 1 : 0;
    });
    expect(seen.reduce((sum, v) => sum + v, 0)).toBeGreaterThan(150);
  });

  it('finds none in a level that never changes', () => {
    expect(
      trendTest(
        days(10),
        take(10, () => 2),
      ),
    ).toMatchObject({ tau: null, pValue: 1 });
  });
});

describe('change point', () => {
  it('finds a step where it is and how large it is', () => {
    const y = take(40, autoregression(4, 0.2)).map((v, k) => 0.3 * v + (k < 25 ? 0 : 2));
    const found = changePoint(y)!;
    expect(Math.abs(found.index - 25)).toBeLessThanOrEqual(1);
    expect(found.step).toBeCloseTo(2, 0);
    expect(found.pValue).toBeLessThan(0.01);
  });

  it.each([0, 0.3, 0.5])(
    'finds steps in few stepless series at likeness %f, where the textbook test finds many',
    (r) => {
      const lives = 250;
      let own = 0;
      let textbook = 0;
      for (let seed = 0; seed < lives; seed++) {
        const y = take(30, autoregression(seed, r));
        if (changePoint(y, { resamples: 99, next: uniform(seed) })!.pValue <= 0.05) own++;
        if (pettittPValue(y) <= 0.05) textbook++;
      }
      expect(own / lives).toBeLessThan(0.12);
      if (r === 0.5) expect(textbook / lives).toBeGreaterThan(0.15);
    },
  );

  it('is not asked of fewer than eight runs', () => {
    expect(changePoint([1, 1, 1, 5, 5, 5, 5])).toBeNull();
  });
});
