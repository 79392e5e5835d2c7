import { describe, expect, it } from 'vitest';
import {
  evidenceOfGreatest,
  jointEvidence,
  lineEvidence,
  medianOverMean,
  runningMedian,
} from '../../../collector/analysis/background.ts';
import { gaussian, seededRandom } from '../../support/machine-signals.ts';

describe('runningMedian', () => {
  it('follows a slope and does not see lines', () => {
    const values = Float64Array.from({ length: 1000 }, (_, k) => 1 + k / 1000 + (k % 50 === 0 ? 100 : 0));
    const median = runningMedian(values, 20);
    for (let k = 30; k < 970; k++) expect(Math.abs(median[k]! - (1 + k / 1000))).toBeLessThan(0.03);
  });

  it('equals the middle of the sorted neighbours, ties and even counts included', () => {
    const random = seededRandom(2);
    for (const count of [2, 5, 8, 33, 64]) {
      const values = Float64Array.from({ length: count }, () => Math.floor(6 * random()));
      const sorted = values.slice().sort();
      const middle = (sorted[(count - 1) >> 1]! + sorted[count >> 1]!) / 2;
      expect(runningMedian(values, count)[0]).toBe(middle);
    }
  });

  it('holds for one value and for a width beyond the array', () => {
    expect([...runningMedian(Float64Array.of(4), 9)]).toEqual([4]);
    expect([...runningMedian(Float64Array.of(1, 9, 2), 99)]).toEqual([2, 2, 2]);
  });
});

describe('evidence of lines', () => {
  const random = seededRandom(5);
  const averaged = (k: number) => {
    let sum = 0;
    for (let i = 0; i < 2 * k; i++) sum += gaussian(random) ** 2;
    return sum / (2 * k);
  };

  it('is -ln of how often noise does it, for one power line and for averages', () => {
    for (const averages of [1, 4, 9]) {
      const draws = Array.from({ length: 20_000 }, () => averaged(averages));
      for (const level of [1.5, 2.2]) {
        const share = draws.filter((value) => value >= level).length / draws.length;
        if (share < 0.005) continue;
        expect(Math.exp(-lineEvidence(level, averages)) / share).toBeGreaterThan(0.85);
        expect(Math.exp(-lineEvidence(level, averages)) / share).toBeLessThan(1.15);
      }
      const sorted = draws.sort((a, b) => a - b);
      expect(Math.abs(sorted[10_000]! / medianOverMean(averages) - 1)).toBeLessThan(0.03);
    }
  });

  it('does not overflow for a huge line', () => {
    expect(lineEvidence(1e6, 1)).toBe(1e6);
    expect(lineEvidence(1e5, 200)).toBeGreaterThan(1e6);
    expect(Number.isFinite(lineEvidence(1e5, 200))).toBe(true);
  });

  it('corrects for the number of tries: 1 in 1000 over 10 places is about 1 in 100', () => {
    expect(Math.exp(-evidenceOfGreatest(Math.log(1000), 10))).toBeCloseTo(0.00996, 4);
    expect(evidenceOfGreatest(100, 10)).toBeCloseTo(100 - Math.log(10), 6);
    expect(evidenceOfGreatest(0, 10)).toBe(0);
  });

  it('joins by the gamma tail: sums of unit exponentials exceed it as often as it says', () => {
    const sums = Array.from({ length: 20_000 }, () => {
      let sum = 0;
      for (let k = 0; k < 4; k++) sum -= Math.log(1 - random());
      return sum;
    });
    const share = sums.filter((sum) => sum > 8).length / sums.length;
    expect(Math.exp(-jointEvidence(8, 4)) / share).toBeCloseTo(1, 0.7);
  });
});
