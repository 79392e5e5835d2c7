import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { thinByExtremes } from '../../../collector/live/thin-waveform.ts';

describe('a waveform thinned for a screen', () => {
  it('keeps its extremes, its order and the promised length', () => {
    const signal = fc.array(fc.double({ min: -100, max: 100, noNaN: true }), {
      minLength: 1,
      maxLength: 3000,
    });
    fc.assert(
      fc.property(signal, fc.integer({ min: 2, max: 1024 }), (values, points) => {
        const samples = Float64Array.from(values);
        const thinned = thinByExtremes(samples, points);
        expect(thinned.length).toBeLessThanOrEqual(points);
        expect(Math.max(...thinned)).toBe(samples.reduce((a, b) => Math.max(a, b)));
        expect(Math.min(...thinned)).toBe(samples.reduce((a, b) => Math.min(a, b)));
        let at = 0;
        for (const value of thinned) {
          while (at < samples.length && !Object.is(samples[at], value)) at++;
          expect(at).toBeLessThan(samples.length);
        }
      }),
    );
  });

  it('leaves a short one as it is', () => {
    expect(thinByExtremes(Float64Array.of(3, 1, 2), 1024)).toEqual([3, 1, 2]);
    expect(thinByExtremes(new Float64Array(), 1024)).toEqual([]);
  });
});
