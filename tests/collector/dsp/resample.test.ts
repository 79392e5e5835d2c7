import { describe, expect, it } from 'vitest';
import { resampleToAngle, speedAt } from '../../../collector/dsp/resample.ts';
import { spectrogram } from '../../../collector/dsp/spectrogram.ts';
import { amplitudeSpectrum } from '../../../collector/dsp/spectrum.ts';

const RATE = 5000;
/** Runs up from 20 to 40 turns per second in 8 s. */
const runUp = { name: 'shaft', timeS: [0, 8], hz: [20, 40] };
const angleAt = (t: number) => 20 * t + (20 * t * t) / 16;
const following = (order: number) =>
  Float64Array.from({ length: 8 * RATE }, (_, k) => Math.cos(2 * Math.PI * order * angleAt(k / RATE)));

describe('speedAt', () => {
  it('joins by straight lines and holds the ends', () => {
    expect(speedAt(runUp, 4)).toBeCloseTo(30, 12);
    expect(speedAt(runUp, -1)).toBe(20);
    expect(speedAt(runUp, 99)).toBe(40);
    expect(speedAt({ name: 'x', timeS: [5], hz: [7] }, 0)).toBe(7);
  });
});

describe('resampleToAngle', () => {
  it('makes one line of a tone that follows the shaft through a run-up', () => {
    for (const order of [1, 3.58, 12.4]) {
      const turned = resampleToAngle(following(order), RATE, runUp, 64);
      expect(turned.turns).toBeCloseTo(240, 1);
      const { stepHz, amplitudeRms } = amplitudeSpectrum(turned.values, turned.samplesPerTurn, {
        window: 'flat-top',
      });
      const peak = amplitudeRms.indexOf(Math.max(...amplitudeRms));
      expect(peak * stepHz).toBeCloseTo(order, 1.7);
      expect(amplitudeRms[peak]! * Math.SQRT2).toBeCloseTo(1, 2);
    }
  });

  it('folds nothing down from above half the new rate', () => {
    // Order 40 cannot be held by 64 samples per turn; it must vanish, not appear at order 24.
    const turned = resampleToAngle(following(40), RATE, runUp, 64);
    const { amplitudeRms } = amplitudeSpectrum(turned.values, 64);
    expect(Math.max(...amplitudeRms)).toBeLessThan(0.01);
  });

  it('keeps a constant constant', () => {
    const { values } = resampleToAngle(new Float64Array(5000).fill(9.81), RATE, runUp, 33);
    for (const value of values) expect(value).toBeCloseTo(9.81, 9);
  });

  it('names what is wrong with a speed channel', () => {
    const samples = new Float64Array(100);
    const bad = (timeS: number[], hz: number[]) => () =>
      resampleToAngle(samples, RATE, { name: 'turbine', timeS, hz }, 8);
    expect(bad([], [])).toThrow(/turbine/);
    expect(bad([0, 1], [5, -1])).toThrow(/value 1/);
    expect(bad([0, 0], [5, 5])).toThrow(/does not come after/);
  });
});

describe('spectrogram', () => {
  it('follows a tone that rises', () => {
    const { timeS, stepHz, columns } = spectrogram(following(10), RATE, { segmentSamples: 1000 });
    expect(columns.length).toBe(79);
    for (let j = 0; j < columns.length; j++) {
      const peak = columns[j]!.indexOf(Math.max(...columns[j]!)) * stepHz;
      expect(Math.abs(peak - 10 * speedAt(runUp, timeS[j]!))).toBeLessThan(15);
    }
  });
});
