import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  createMomentAccumulator,
  crestFactor,
  kurtosis,
  mergeMoments,
  momentsOf,
  NO_MOMENTS,
  peak,
  rms,
} from '../../../collector/dsp/moments.ts';
import { gaussianNoise, velocitySine } from '../../support/signals.ts';

const samples = fc.array(fc.double({ min: -100, max: 100, noNaN: true }), { minLength: 1, maxLength: 60 });

/** Straight from the definition, in two passes. */
function plainMoments(values: number[]) {
  const mean = values.reduce((s, v) => s + v, 0) / values.length;
  const power = (p: number) => values.reduce((s, v) => s + (v - mean) ** p, 0);
  return { mean, m2: power(2), m3: power(3), m4: power(4) };
}

function expectClose(actual: number, expected: number, scale: number) {
  expect(Math.abs(actual - expected)).toBeLessThanOrEqual(1e-9 * (scale + 1));
}

describe('moments', () => {
  it('are those of the definition', () => {
    fc.assert(
      fc.property(samples, (values) => {
        const actual = momentsOf(Float64Array.from(values));
        const expected = plainMoments(values);
        const n = values.length;
        expectClose(actual.mean, expected.mean, 100);
        expectClose(actual.m2, expected.m2, n * 1e4);
        expectClose(actual.m3, expected.m3, n * 1e6);
        expectClose(actual.m4, expected.m4, n * 1e8);
      }),
    );
  });

  it('of two stretches merge into those of both together (Pébay 2008)', () => {
    fc.assert(
      fc.property(samples, samples, (a, b) => {
        const merged = mergeMoments(momentsOf(Float64Array.from(a)), momentsOf(Float64Array.from(b)));
        const whole = momentsOf(Float64Array.from([...a, ...b]));
        expect(merged.count).toBe(whole.count);
        for (const [key, scale] of [
          ['mean', 100],
          ['m2', 1e6],
          ['m3', 1e8],
          ['m4', 1e10],
        ] as const) {
          expectClose(merged[key], whole[key], scale);
        }
        expectClose(merged.minimum, whole.minimum, 100);
        expectClose(merged.maximum, whole.maximum, 100);
      }),
    );
  });

  it('merge with nothing is no change', () => {
    const some = momentsOf(Float64Array.of(1, 2, 4));
    expect(mergeMoments(some, NO_MOMENTS)).toEqual(some);
    expect(mergeMoments(NO_MOMENTS, some)).toEqual(some);
  });

  it('do not depend on how the samples are cut, to the last bit', () => {
    const signal = gaussianNoise(7, 3, 1000).map((v) => v + 9.81);
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 400 }), { maxLength: 8 }), (sizes) => {
        const accumulator = createMomentAccumulator();
        let at = 0;
        for (const size of sizes) {
          accumulator.add(signal.subarray(at, at + size));
          at = Math.min(signal.length, at + size);
        }
        accumulator.add(signal.subarray(at));
        expect(accumulator.take()).toEqual(momentsOf(signal));
      }),
    );
  });

  it('keep their figures on top of gravity a million times the vibration', () => {
    const small = momentsOf(gaussianNoise(3, 1e-5, 20_000));
    const lifted = momentsOf(gaussianNoise(3, 1e-5, 20_000).map((v) => v + 9.80665));
    expect(rms(lifted)! / rms(small)!).toBeCloseTo(1, 6);
    expect(kurtosis(lifted)).toBeCloseTo(kurtosis(small)!, 5);
  });
});

describe('values from moments', () => {
  it('of a sine of whole periods: crest factor sqrt 2, kurtosis 1.5 (analytic)', () => {
    const m = momentsOf(velocitySine(80, 10, 3200, 3200));
    expect(rms(m)).toBeCloseTo(0.01 * 2 * Math.PI * 80, 10);
    expect(crestFactor(m)).toBeCloseTo(Math.SQRT2, 10);
    expect(kurtosis(m)).toBeCloseTo(1.5, 10);
  });

  it('of Gaussian noise: kurtosis 3 within its spread sqrt(24 / n) (analytic)', () => {
    const n = 400_000;
    expect(Math.abs(kurtosis(momentsOf(gaussianNoise(11, 2, n)))! - 3)).toBeLessThan(4 * Math.sqrt(24 / n));
  });

  it('peak is the larger side from the mean, not from zero', () => {
    expect(peak(momentsOf(Float64Array.of(9, 10, 10, 10, 16)))).toBe(5);
  });

  it('of a constant: RMS 0, no crest factor, no kurtosis', () => {
    const m = momentsOf(new Float64Array(100).fill(0.1));
    expect([rms(m), peak(m), crestFactor(m), kurtosis(m)]).toEqual([0, 0, null, null]);
  });

  it('of nothing: null', () => {
    const m = momentsOf(new Float64Array(0));
    expect([rms(m), peak(m), crestFactor(m), kurtosis(m)]).toEqual([null, null, null, null]);
  });
});
