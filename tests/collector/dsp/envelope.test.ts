import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { envelopeSpectrum } from '../../../collector/dsp/envelope.ts';
import { complexEnvelope, magnitude, recordSpectrum } from '../../../collector/dsp/hilbert.ts';
import { candidateBands, kurtogram } from '../../../collector/dsp/kurtogram.ts';
import { gaussian, seededRandom } from '../../support/machine-signals.ts';
import { referenceSamples } from './reference-samples.ts';

const RATE = 8000;
/** Carrier at 2000 Hz, amplitude 3, swelling by 40 % at 50 Hz, on 1 g. */
const swelling = Float64Array.from({ length: 16_000 }, (_, k) => {
  const t = k / RATE;
  return 9.81 + 3 * (1 + 0.4 * Math.cos(2 * Math.PI * 50 * t)) * Math.cos(2 * Math.PI * 2000 * t + 1);
});

describe('complexEnvelope', () => {
  it('reads the amplitude of a tone, whatever the rate it is brought to', () => {
    for (const band of [
      [1500, 2500],
      [1900, 2100],
    ] as [number, number][]) {
      const values = magnitude(complexEnvelope(recordSpectrum(swelling, RATE), band));
      const mean = values.reduce((s, v) => s + v, 0) / values.length;
      expect(mean).toBeCloseTo(3, 6);
      expect(Math.max(...values)).toBeCloseTo(4.2, 2);
    }
  });

  it('refuses a band outside the record, and says what the record holds', () => {
    expect(() => complexEnvelope(recordSpectrum(swelling, RATE), [5000, 6000])).toThrow(/0 to 4000 Hz/);
  });

  it('agrees with scipy.signal.hilbert within 0.5 % (tests/golden/spectra.py)', () => {
    const golden = JSON.parse(readFileSync(new URL('../../golden/spectra.json', import.meta.url), 'utf8'));
    const { samples, bandHz, every, magnitude: expected } = golden.envelope[0];
    const record = recordSpectrum(referenceSamples(samples), 5000);
    const envelope = complexEnvelope(record, bandHz);
    const got = magnitude(envelope);
    // The same moments at the lower rate: where a time falls between two values, their spectrum is evaluated.
    const count = got.length;
    const largest = Math.max(...expected);
    expected.forEach((value: number, at: number) => {
      const position = (at * every * count) / samples;
      if (Number.isInteger(position)) {
        expect(Math.abs(got[position]! - value)).toBeLessThan(0.005 * largest);
      }
      expect(Math.abs(exactMagnitude(envelope.values, position) - value)).toBeLessThan(0.005 * value + 1e-9);
    });
  });
});

/** |z| at any place, from its Fourier series (bins 0 to the middle: the band was moved to 0 Hz and up). */
function exactMagnitude(z: Float64Array, position: number): number {
  const n = z.length / 2;
  let re = 0;
  let im = 0;
  // Dirichlet's kernel of the lower half of the bins, summed over all values.
  for (let m = 0; m < n; m++) {
    const x = (2 * Math.PI * (position - m)) / n;
    const bins = n / 2 + 1;
    const half = x / 2;
    const sine = Math.sin(half);
    const size = Math.abs(sine) < 1e-12 ? bins : Math.sin(bins * half) / sine;
    const phase = ((bins - 1) * x) / 2;
    const kr = (size * Math.cos(phase)) / n;
    const ki = (size * Math.sin(phase)) / n;
    re += z[2 * m]! * kr - z[2 * m + 1]! * ki;
    im += z[2 * m]! * ki + z[2 * m + 1]! * kr;
  }
  return Math.hypot(re, im);
}

describe('envelopeSpectrum', () => {
  it('shows the modulation at its frequency and depth, and nothing of the carrier', () => {
    const spectrum = envelopeSpectrum(swelling, RATE, [1800, 2200]);
    const line = Math.round(50 / spectrum.stepHz);
    expect(spectrum.meanEnvelope).toBeCloseTo(3, 6);
    expect(spectrum.amplitudeRms[line]).toBeCloseTo((3 * 0.4) / Math.SQRT2, 6);
    expect(spectrum.amplitudeRms[2 * line]).toBeLessThan(1e-6);
    expect((spectrum.amplitudeRms.length - 1) * spectrum.stepHz).toBeLessThanOrEqual(400);
  });
});

describe('kurtogram', () => {
  it('finds the band in which bursts ring, within noise', () => {
    const random = seededRandom(11);
    const noise = Float64Array.from({ length: 40_000 }, () => gaussian(random));
    for (let start = 0; start < noise.length; start += 400) {
      for (let k = 0; k < 60; k++) {
        noise[start + k]! += 6 * Math.exp(-k / 15) * Math.cos((2 * Math.PI * 2600 * k) / RATE);
      }
    }
    const [best] = kurtogram(recordSpectrum(noise, RATE));
    expect(best!.spectralKurtosis).toBeGreaterThan(0.5);
    expect(best!.bandHz[0]).toBeLessThan(2600);
    expect(best!.bandHz[1]).toBeGreaterThan(2600);
  });

  it('is near 0 in every band of Gaussian noise, and not led by one knock', () => {
    const random = seededRandom(12);
    const noise = Float64Array.from({ length: 80_000 }, () => gaussian(random));
    for (let k = 0; k < 60; k++) noise[30_000 + k]! += 80 * Math.exp(-k / 15);
    const all = kurtogram(recordSpectrum(noise, RATE));
    for (const { spectralKurtosis } of all) expect(Math.abs(spectralKurtosis)).toBeLessThan(0.25);
  });

  it('cuts the range into bands of equal width, none narrower than asked', () => {
    const bands = candidateBands(RATE, { narrowestHz: 1000 });
    expect(bands[0]).toEqual([160, 3800]);
    for (const [low, high] of bands) expect(high - low).toBeGreaterThanOrEqual(1000);
    expect(candidateBands(RATE, { lowestHz: 4000 })).toEqual([]);
  });
});
