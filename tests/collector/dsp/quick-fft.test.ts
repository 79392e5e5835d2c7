import { describe, expect, it } from 'vitest';
import { envelopeSpectrum } from '../../../collector/dsp/envelope.ts';
import { complexFft, realFft } from '../../../collector/dsp/fft.ts';
import { complexEnvelope, magnitude, recordSpectrum } from '../../../collector/dsp/hilbert.ts';
import { nextSmooth } from '../../../collector/dsp/mixed-radix.ts';
import { quickFft } from '../../../collector/dsp/quick-fft.ts';
import { amplitudeSpectrum, welch } from '../../../collector/dsp/spectrum.ts';
import { gaussianNoise } from '../../support/signals.ts';

/** Largest difference as a share of the largest value. */
function difference(a: ArrayLike<number>, b: ArrayLike<number>): number {
  expect(a.length).toBe(b.length);
  let [most, largest] = [0, 0];
  for (let k = 0; k < a.length; k++) {
    most = Math.max(most, Math.abs(a[k]! - b[k]!));
    largest = Math.max(largest, Math.abs(b[k]!));
  }
  return most / largest;
}

describe('a transform in single precision', () => {
  it.each([32, 96, 160, 1024, 1440, 2048, 3200, 25_600, 65_536])(
    'of %d real numbers is that in double precision within a millionth',
    (size) => {
      const samples = gaussianNoise(size, 1, size);
      const exact = realFft(size).forward(samples);
      const quick = quickFft(size, 'real')!;
      quick.input().set(samples);
      const lines = quick.forward();
      expect([lines[0], lines[1]]).toEqual([expect.closeTo(exact[0]!, 2), expect.closeTo(exact[size]!, 2)]);
      expect(difference(lines.subarray(2), exact.subarray(2, size))).toBeLessThan(1e-6);
    },
  );

  it.each([16, 48, 80, 1440, 4096])('of %d complex numbers too, both ways', (size) => {
    const values = gaussianNoise(size, 1, 2 * size);
    const quick = quickFft(size, 'complex')!;
    quick.input().set(values);
    expect(difference(quick.forward(), complexFft(size).forward(values))).toBeLessThan(1e-6);
    quick.input().set(values);
    const back = Float64Array.from(quick.backward(), (value) => value / size);
    expect(difference(back, complexFft(size).inverse(values))).toBeLessThan(1e-6);
  });

  it('says where it has none, and keeps plans and room right while others come and go', () => {
    for (const size of [0, 16, 31, 33, 7 * 32, 2 ** 17]) expect(quickFft(size, 'real')).toBeNull();
    expect(quickFft(24, 'complex')).toBeNull();
    const first = quickFft(3200, 'real')!;
    const samples = gaussianNoise(7, 1, 3200);
    const exact = realFft(3200).forward(samples).subarray(2, 3200);
    let others = 0;
    for (let size = 32; others < 20; size += 32) if (quickFft(size, 'real') !== null) others++;
    // The largest of all takes new room.
    quickFft(65_536, 'complex');
    first.input().set(samples);
    expect(difference(first.forward().subarray(2), exact)).toBeLessThan(1e-6);
  });
});

describe('spectra in single precision', () => {
  const samples = gaussianNoise(3, 4, 3200).map(
    (v, k) => v + 9.8 + 20 * Math.sin((2 * Math.PI * 50 * k) / 3200),
  );

  it('are those in double precision', () => {
    for (const segmentSamples of [1024, 2048]) {
      const one = (precision: 'single' | 'double') =>
        welch(samples, 3200, { segmentSamples, precision }).density;
      const [quick, exact] = [one('single'), one('double')];
      for (let k = 2; k < exact.length; k++)
        expect(Math.abs(quick[k]! / exact[k]! - 1), `line ${k}`).toBeLessThan(1e-3);
      expect(difference(quick.subarray(1), exact.subarray(1))).toBeLessThan(1e-6);
    }
    const amplitudes = (precision: 'single' | 'double') =>
      amplitudeSpectrum(samples, 3200, { precision }).amplitudeRms;
    expect(difference(amplitudes('single'), amplitudes('double'))).toBeLessThan(1e-6);
    // A length that has no quick way is done the other way.
    const odd = samples.subarray(0, 3191);
    expect(amplitudeSpectrum(odd, 3200, { precision: 'single' })).toEqual(amplitudeSpectrum(odd, 3200));
  });

  it('of the envelope are those worked out line by line in double precision', () => {
    for (const band of [
      [800, 1500],
      [200, 420],
    ] as [number, number][]) {
      const { amplitudeRms, meanEnvelope, bandHz, stepHz } = envelopeSpectrum(samples, 3200, band);
      const exact = complexEnvelope(
        recordSpectrum(samples, 3200),
        band,
        Number.POSITIVE_INFINITY,
        (atLeast) => nextSmooth(atLeast, 16),
      );
      const values = magnitude(exact);
      const expected = amplitudeSpectrum(values, exact.sampleRateHz);
      expect(bandHz).toEqual(exact.bandHz);
      expect(stepHz).toBeCloseTo(expected.stepHz, 9);
      expect(meanEnvelope).toBeCloseTo(values.reduce((sum, value) => sum + value, 0) / values.length, 5);
      const within = expected.amplitudeRms.subarray(0, amplitudeRms.length);
      expect(difference(amplitudeRms, within)).toBeLessThan(1e-5);
    }
  });
});
