import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { complexFft, nextPowerOfTwo, realFft } from '../../../collector/dsp/fft.ts';
import { mixedRadix, nextSmooth } from '../../../collector/dsp/mixed-radix.ts';

/** The definition, straight from the textbook. */
function slowDft(input: Float64Array): Float64Array {
  const n = input.length / 2;
  const out = new Float64Array(2 * n);
  for (let k = 0; k < n; k++) {
    for (let m = 0; m < n; m++) {
      const angle = (-2 * Math.PI * ((k * m) % n)) / n;
      out[2 * k]! += input[2 * m]! * Math.cos(angle) - input[2 * m + 1]! * Math.sin(angle);
      out[2 * k + 1]! += input[2 * m]! * Math.sin(angle) + input[2 * m + 1]! * Math.cos(angle);
    }
  }
  return out;
}

const numbers = (length: number) =>
  fc.array(fc.double({ min: -100, max: 100, noNaN: true }), { minLength: length, maxLength: length });

describe('complexFft', () => {
  it('equals the definition at every length, power of two or not', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 70 }).chain((n) => numbers(2 * n)),
        (values) => {
          const input = Float64Array.from(values);
          const expected = slowDft(input);
          const got = complexFft(input.length / 2).forward(input);
          for (let k = 0; k < expected.length; k++) expect(got[k]).toBeCloseTo(expected[k]!, 7);
        },
      ),
      { seed: 1 },
    );
  });

  it('comes back from its inverse', () => {
    // Every radix alone and together, odd and even numbers of passes, and a prime.
    for (const n of [1, 2, 3, 4, 5, 8, 27, 125, 1000, 1440, 2187, 3200, 4096, 3203]) {
      const input = Float64Array.from({ length: 2 * n }, (_, k) => Math.sin(k * k));
      const plan = complexFft(n);
      const back = plan.inverse(plan.forward(input));
      for (let k = 0; k < 2 * n; k++) expect(back[k]).toBeCloseTo(input[k]!, 10);
    }
  });
});

describe('realFft', () => {
  it('equals the lower half of the complex transform', () => {
    for (const n of [1, 2, 3, 4, 5, 6, 10, 16, 31, 62, 100, 3200]) {
      const samples = Float64Array.from({ length: n }, (_, k) => Math.cos(1.7 * k) + 0.1 * k);
      const complex = new Float64Array(2 * n);
      samples.forEach((value, k) => {
        complex[2 * k] = value;
      });
      const expected = complexFft(n).forward(complex);
      const got = realFft(n).forward(samples);
      expect(got.length).toBe(2 * (Math.floor(n / 2) + 1));
      for (let k = 0; k < got.length; k++) expect(Math.abs(got[k]! - expected[k]!)).toBeLessThan(1e-7);
    }
  });

  it('keeps the energy (Parseval) at a long length that is no power of two', () => {
    const n = 25_600;
    const samples = Float64Array.from({ length: n }, (_, k) => Math.sin(k ** 1.5));
    const transform = realFft(n).forward(samples);
    let energy = 0;
    for (let k = 0; k <= n / 2; k++) {
      const weight = k === 0 || k === n / 2 ? 1 : 2;
      energy += weight * (transform[2 * k]! ** 2 + transform[2 * k + 1]! ** 2);
    }
    const expected = samples.reduce((sum, value) => sum + value * value, 0);
    expect(energy / n / expected).toBeCloseTo(1, 9);
  });

  it('refuses a length that is no length', () => {
    expect(() => realFft(0)).toThrow(/at least 1/);
    expect(() => complexFft(2.5)).toThrow(/whole number/);
    expect(nextPowerOfTwo(3200)).toBe(4096);
    expect(nextSmooth(3201)).toBe(3240);
    expect(nextSmooth(1402, 32)).toBe(1440);
    expect(() => mixedRadix(14)).toThrow(/prime factors/);
  });
});
