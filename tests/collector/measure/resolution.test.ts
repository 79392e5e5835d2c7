import { describe, expect, it } from 'vitest';
import { resolutionOf } from '../../../collector/measure/resolution.ts';
import { gaussianNoise, quantise16 } from '../../support/signals.ts';

const changesOf = (x: Float64Array) => x.slice(1).map((v, i) => Math.abs(v - x[i]!));

describe('resolution of samples', () => {
  it.each([2, 16, 200 * 9.80665])('of 16-bit samples at full scale %f is one step', (fullScale) => {
    const samples = quantise16(gaussianNoise(1, fullScale / 8, 64), fullScale);
    expect((resolutionOf(changesOf(samples), fullScale) / fullScale) * 32768).toBeCloseTo(1, 4);
  });

  it('of 12 bits left-justified in 16 is 16 steps', () => {
    const samples = gaussianNoise(2, 200, 64).map((v) => 16 * Math.round(v));
    expect(resolutionOf(changesOf(samples), 2000)).toBe(16);
  });

  it('of samples never rounded is next to nothing', () => {
    expect(resolutionOf(changesOf(gaussianNoise(3, 1, 64)), 3)).toBeLessThan(1e-6);
  });

  it('ignores what is no change', () => {
    expect(resolutionOf(Float64Array.of(Number.NaN, 0, 6, 4), 10)).toBe(2);
    expect(resolutionOf(new Float64Array(0), 0)).toBe(0);
  });
});
