import { describe, expect, it } from 'vitest';
import { lineAt } from '../../../collector/analysis/comb.ts';
import { envelopeBank } from '../../../collector/analysis/envelope-bank.ts';
import { limitTones } from '../../../collector/analysis/tone-limit.ts';
import { recordSpectrum } from '../../../collector/dsp/hilbert.ts';
import { gaussian, seededRandom } from '../../support/machine-signals.ts';

const RATE = 6400;
const rms = (values: Float64Array) => Math.sqrt(values.reduce((s, v) => s + v * v, 0) / values.length);
const noise = (seed: number) => {
  const random = seededRandom(seed);
  return Float64Array.from({ length: 8 * RATE }, () => gaussian(random));
};
const linesOf = (samples: Float64Array) =>
  envelopeBank(recordSpectrum(samples, RATE), [[1000, 3000]], { topHz: 300, lineSpacingHz: 20 });

describe('limitTones', () => {
  it('takes the beat of two tones out of the envelope', () => {
    const beating = noise(1).map(
      (v, k) =>
        v + 2 * Math.cos((2 * Math.PI * 1800 * k) / RATE) + 2 * Math.cos((2 * Math.PI * 1893.3 * k) / RATE),
    );
    expect(lineAt(linesOf(beating)[0]!, 93.3).evidence).toBeGreaterThan(1000);
    expect(lineAt(linesOf(limitTones(beating, RATE))[0]!, 93.3).evidence).toBeLessThan(10);
  });

  it('leaves noise that swells as it is', () => {
    const swelling = noise(2).map((v, k) => v * (1 + 0.5 * Math.cos((2 * Math.PI * 93.3 * k) / RATE)));
    const limited = limitTones(swelling, RATE);
    expect(limited.length).toBeCloseTo(0.75 * swelling.length, -1);
    expect(Math.abs(rms(limited) / rms(swelling) - 1)).toBeLessThan(0.03);
    const before = lineAt(linesOf(swelling)[0]!, 93.3).depth;
    expect(before).toBeCloseTo(0.5, 1);
    expect(lineAt(linesOf(limited)[0]!, 93.3).depth / before).toBeGreaterThan(0.85);
  });
});

describe('envelopeBank', () => {
  it('reads the depth of a modulation, at both resolutions', () => {
    const tone = noise(3).map((v, k) => {
      const swell = 1 + 0.3 * Math.cos((2 * Math.PI * 71 * k) / RATE);
      return 0.01 * v + swell * Math.cos((2 * Math.PI * 2000 * k) / RATE);
    });
    const [whole, averaged] = linesOf(tone);
    expect(whole!.averages).toBe(1);
    expect(averaged!.averages).toBeGreaterThan(6);
    for (const spectrum of [whole!, averaged!]) {
      expect(lineAt(spectrum, 71).depth).toBeCloseTo(0.3, 2);
      expect(lineAt(spectrum, 142).depth).toBeLessThan(0.01);
    }
  });

  it('does not take the skirts of a strong line for lines', () => {
    const tone = noise(4).map((v, k) => {
      const swell = 1 + 0.5 * Math.cos((2 * Math.PI * 71.06 * k) / RATE);
      return 0.001 * v + swell * Math.cos((2 * Math.PI * 2000 * k) / RATE);
    });
    const [whole] = linesOf(tone);
    const centre = Math.round(71.06 / whole!.stepHz);
    for (let d = 4; d <= 8; d++) {
      expect(whole!.evidence[centre + d]!).toBeLessThan(6);
      expect(whole!.evidence[centre - d]!).toBeLessThan(6);
    }
  });
});
