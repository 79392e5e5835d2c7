import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { amplitudeSpectrum, bandMeanSquare, thinByMaximum, welch } from '../../../collector/dsp/spectrum.ts';
import { makeWindow, type WindowName } from '../../../collector/dsp/window.ts';
import { referenceSamples } from './reference-samples.ts';

const WINDOWS: WindowName[] = ['hann', 'flat-top', 'rectangular'];
const RATE = 3200;
const sine = (n: number, hz: number, amplitude: number) =>
  Float64Array.from({ length: n }, (_, k) => amplitude * Math.sin((2 * Math.PI * hz * k) / RATE + 0.3));
const rms = (values: Float64Array) => Math.sqrt(values.reduce((s, v) => s + v * v, 0) / values.length);

describe('window', () => {
  it('has the noise bandwidth of the textbooks (Heinzel et al. 2002: Hann 1.5 bins, flat-top 3.77)', () => {
    expect(makeWindow('hann', 1000).noiseBandwidthBins).toBeCloseTo(1.5, 6);
    expect(makeWindow('hann', 1000).coherentGain).toBeCloseTo(0.5, 9);
    expect(makeWindow('flat-top', 1000).noiseBandwidthBins).toBeCloseTo(3.77, 2);
    expect(makeWindow('rectangular', 7).noiseBandwidthBins).toBe(1);
  });
});

describe('amplitudeSpectrum', () => {
  it('reads A / sqrt 2 at the line of a sine, for every window', () => {
    for (const window of WINDOWS) {
      for (const n of [3200, 4096, 3199]) {
        const hz = (240 * RATE) / n;
        const { stepHz, amplitudeRms } = amplitudeSpectrum(sine(n, hz, 5), RATE, { window });
        expect(stepHz).toBeCloseTo(RATE / n, 12);
        expect(amplitudeRms[240]).toBeCloseTo(5 / Math.SQRT2, 6);
      }
    }
  });

  it('reads a tone between two lines within 0.2 % with the flat-top window', () => {
    const { amplitudeRms } = amplitudeSpectrum(sine(3200, 240.5, 5), RATE, { window: 'flat-top' });
    expect(Math.max(...amplitudeRms) / (5 / Math.SQRT2)).toBeCloseTo(1, 2.4);
  });

  it('takes gravity away', () => {
    const leaning = sine(3200, 100, 1).map((v) => v + 9.81);
    expect(amplitudeSpectrum(leaning, RATE).amplitudeRms[0]).toBeLessThan(1e-9);
  });

  it('refuses too little', () => {
    expect(() => amplitudeSpectrum(new Float64Array(1), RATE)).toThrow(/at least 2 samples/);
    expect(() => amplitudeSpectrum(new Float64Array(8), 0)).toThrow(/sample rate/);
  });
});

describe('welch', () => {
  it('integrates to the mean square, for every window (Parseval)', () => {
    const noise = referenceSamples(200_000);
    const mean = noise.reduce((s, v) => s + v, 0) / noise.length;
    const centred = noise.map((v) => v - mean);
    for (const window of WINDOWS) {
      const result = welch(centred, 5000, { segmentSamples: 1000, window });
      const total = result.density.reduce((s, v) => s + v, 0) * result.stepHz;
      expect(Math.abs(Math.sqrt(total) / rms(centred) - 1)).toBeLessThan(0.005);
      expect(bandMeanSquare(result, 0, 2500)).toBeCloseTo(total, 9);
    }
  });

  it('counts its segments and refuses an overlap of 1', () => {
    expect(welch(new Float64Array(1000), 100, { segmentSamples: 200 }).segments).toBe(9);
    expect(() => welch(new Float64Array(1000), 100, { overlap: 1 })).toThrow(/overlap/);
  });
});

describe('thinByMaximum', () => {
  it('keeps every peak and never more than the points asked for', () => {
    const values = Float64Array.from({ length: 1601 }, (_, k) => (k === 777 ? 9 : k % 3));
    const thinned = thinByMaximum(values, 400);
    expect(thinned.values.length).toBeLessThanOrEqual(400);
    expect(thinned.values[Math.floor(777 / thinned.step)]).toBe(9);
    expect(thinByMaximum(values, 5000).values).toEqual(values);
  });
});

describe('against scipy 1.10 (tests/golden/spectra.py), within 0.5 %', () => {
  const golden = JSON.parse(readFileSync(new URL('../../golden/spectra.json', import.meta.url), 'utf8'));
  const names: Record<string, WindowName> = { hann: 'hann', flattop: 'flat-top', boxcar: 'rectangular' };
  const agree = (got: Float64Array, expected: number[], every: number) => {
    const largest = Math.max(...expected);
    expected.forEach((value, k) => {
      // A line of almost nothing (the mean, removed) is held against the largest line instead.
      const allowed = Math.max(0.005 * Math.abs(value), 1e-9 * largest);
      expect(Math.abs(got[k * every]! - value)).toBeLessThanOrEqual(allowed);
    });
  };

  it('Welch density', () => {
    for (const run of golden.welch) {
      const { density } = welch(referenceSamples(run.samples), 5000, {
        segmentSamples: run.segmentSamples,
        overlap: run.overlapSamples / run.segmentSamples,
        window: names[run.window]!,
      });
      agree(density, run.density, run.every);
    }
  });

  it('amplitude spectrum', () => {
    for (const run of golden.amplitude) {
      const { amplitudeRms } = amplitudeSpectrum(referenceSamples(run.samples), 5000, {
        window: names[run.window]!,
      });
      agree(amplitudeRms, run.amplitudeRms, run.every);
    }
  });
});
