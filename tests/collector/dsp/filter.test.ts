import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createCascade } from '../../../collector/dsp/filter.ts';
import {
  butterworthHighPass,
  butterworthLowPass,
  butterworthQualities,
  magnitudeAt,
} from '../../../collector/dsp/filter-design.ts';
import { gaussianNoise } from '../../support/signals.ts';

describe('Butterworth design', () => {
  it('has the pole qualities of the textbook tables', () => {
    // Order 4: 0.5412, 1.3066; order 8: 0.5098, 0.6013, 0.9000, 2.5629 (common filter tables).
    const rounded = (order: number) => butterworthQualities(order).map((q) => Number(q.toFixed(4)));
    expect(rounded(4)).toEqual([0.5412, 1.3066]);
    expect(rounded(8)).toEqual([0.5098, 0.6013, 0.9, 2.5629]);
  });

  it.each([2, 4, 6, 8, 12])('order %i follows 1 / sqrt(1 + w^2n) of the warped frequency', (order) => {
    const rate = 3200;
    const warp = (f: number) => Math.tan((Math.PI * f) / rate);
    for (const corner of [9.3, 400, 1300]) {
      for (const f of [5, 9.3, 50, 400, 1000, 1500]) {
        const low = 1 / Math.sqrt(1 + (warp(f) / warp(corner)) ** (2 * order));
        const high = 1 / Math.sqrt(1 + (warp(corner) / warp(f)) ** (2 * order));
        expect(magnitudeAt(butterworthLowPass(order, corner, rate), f, rate)).toBeCloseTo(low, 8);
        expect(magnitudeAt(butterworthHighPass(order, corner, rate), f, rate)).toBeCloseTo(high, 8);
      }
    }
  });

  it('refuses what cannot be', () => {
    expect(() => butterworthLowPass(3, 100, 3200)).toThrow(/order 3/);
    expect(() => butterworthLowPass(0, 100, 3200)).toThrow(RangeError);
    expect(() => butterworthHighPass(4, 0, 3200)).toThrow(/corner 0 Hz/);
    expect(() => butterworthLowPass(4, 1600, 3200)).toThrow(/corner 1600 Hz/);
    expect(() => butterworthLowPass(4, Number.NaN, 3200)).toThrow(RangeError);
  });
});

describe('cascade', () => {
  const rate = 3200;

  it.each([2, 6, 8, 12])('of order %i gives a sine the gain of the design', (order) => {
    const design = butterworthLowPass(order, 400, rate);
    for (const f of [100, 400, 600]) {
      const x = Float64Array.from({ length: 2 * rate }, (_, i) => Math.sin((2 * Math.PI * f * i) / rate));
      createCascade(design).run(x, 0, x.length);
      const power = x.subarray(rate).reduce((s, v) => s + v * v, 0) / rate;
      expect(Math.sqrt(2 * power)).toBeCloseTo(magnitudeAt(design, f, rate), 6);
    }
  });

  it('gives the same bits however the samples are cut', () => {
    const design = butterworthHighPass(8, 9.3, rate);
    const whole = gaussianNoise(1, 1, 600);
    const expected = whole.slice();
    createCascade(design).run(expected, 0, expected.length);
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 600 }), { maxLength: 6 }), (cuts) => {
        const x = whole.slice();
        const cascade = createCascade(design);
        const edges = [0, ...cuts.sort((a, b) => a - b), 600];
        for (let i = 1; i < edges.length; i++) cascade.run(x, edges[i - 1]!, edges[i]!);
        expect(x).toEqual(expected);
      }),
    );
  });

  it('starts anew after a reset, and forgets what is too small to matter', () => {
    const cascade = createCascade(butterworthLowPass(8, 400, rate));
    const impulse = () => Float64Array.from({ length: 50 }, (_, i) => (i === 0 ? 1 : 0));
    const first = impulse();
    cascade.run(first, 0, 50);
    const silence = new Float64Array(4000);
    cascade.run(silence, 0, 4000);
    cascade.flushDenormals();
    const after = new Float64Array(10);
    cascade.run(after, 0, 10);
    expect(after).toEqual(new Float64Array(10));
    cascade.run(impulse(), 0, 50);
    cascade.reset();
    const again = impulse();
    cascade.run(again, 0, 50);
    expect(again).toEqual(first);
  });
});
