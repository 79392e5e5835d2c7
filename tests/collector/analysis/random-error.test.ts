import { describe, expect, it } from 'vitest';
import {
  randomErrorOfRms,
  randomErrorWithTones,
  statisticalBandwidthHz,
  velocityDensity,
} from '../../../collector/analysis/random-error.ts';
import { complexFft } from '../../../collector/dsp/fft.ts';
import { welch } from '../../../collector/dsp/spectrum.ts';
import { gaussian, seededRandom } from '../../support/machine-signals.ts';

/** One-second RMS values of velocity whose acceleration is flat from 10 to 200 Hz, from random Fourier lines. */
function simulatedRms(blocks: number, toneMeanSquare: number): number[] {
  const random = seededRandom(3);
  // A period of 2 s, of which the block is the first: a block of the whole period would be too regular.
  const rate = 512;
  const period = 2 * rate;
  const plan = complexFft(period);
  const amplitude = Math.sqrt(2 * toneMeanSquare);
  return Array.from({ length: blocks }, () => {
    const lines = new Float64Array(2 * period);
    for (let k = 20; k <= 400; k++) {
      lines[2 * k] = (period * gaussian(random)) / (k / 2);
      lines[2 * k + 1] = (period * gaussian(random)) / (k / 2);
    }
    const block = plan.inverse(lines);
    let sum = 0;
    for (let k = 0; k < rate; k++) {
      sum += (block[2 * k]! + amplitude * Math.cos((2 * Math.PI * 50 * k) / rate)) ** 2;
    }
    return Math.sqrt(sum / rate);
  });
}

const spread = (values: number[]) => {
  const mean = values.reduce((s, v) => s + v, 0) / values.length;
  return Math.sqrt(values.reduce((s, v) => s + (v - mean) ** 2, 0) / (values.length - 1)) / mean;
};

/** The density the simulation draws from: (a² + b²) / 2 per step. */
function density(step: number, toHz: number) {
  const values = new Float64Array(Math.round(toHz / step) + 1);
  for (let k = 0; k < values.length; k++) values[k] = k * step < 10 ? 0 : 1 / 0.5 / (k * step) ** 2;
  return { stepHz: step, density: values, segments: 1000 };
}

describe('statisticalBandwidthHz', () => {
  it('is the width of a flat band', () => {
    const flat = { stepHz: 0.5, density: new Float64Array(400).fill(3), segments: 1 };
    expect(statisticalBandwidthHz(flat)).toBeCloseTo(200, 9);
  });

  it('is 29.4 Hz for flat acceleration from 10 to 1000 Hz seen as velocity (integral, closed form)', () => {
    const flat = { stepHz: 0.05, density: new Float64Array(20_001).fill(1), segments: 1 };
    const closed = (1 / 10 - 1 / 1000) ** 2 / ((1 / 1000 - 1e-9) / 3);
    expect(closed).toBeCloseTo(29.4, 1);
    const got = statisticalBandwidthHz(velocityDensity(flat, [10, 1000]));
    expect(Math.abs(got / closed - 1)).toBeLessThan(0.01);
  });

  it('scales acceleration to velocity as 1 / (2 pi f)², in (mm/s)² per Hz', () => {
    const rate = 6400;
    const samples = Float64Array.from({ length: 64_000 }, (_, k) => Math.sin((2 * Math.PI * 100 * k) / rate));
    const velocity = velocityDensity(welch(samples, rate, { segmentSamples: 6400 }), [10, 1000]);
    const rms = Math.sqrt(velocity.density.reduce((s, v) => s + v, 0) * velocity.stepHz);
    expect(rms).toBeCloseTo((1000 / (2 * Math.PI * 100)) * Math.SQRT1_2, 2);
  });
});

describe('random error of an RMS, against simulation', () => {
  it('noise alone: 9 % for 1 s of flat acceleration', () => {
    const simulated = spread(simulatedRms(4000, 0));
    const stated = randomErrorOfRms(statisticalBandwidthHz(density(0.05, 200)), 1);
    expect(stated).toBeCloseTo(0.09, 1.5);
    // 4000 blocks know their own spread to about 1.5 %; the lowest lines see few periods in 1 s.
    expect(Math.abs(simulated / stated - 1)).toBeLessThan(0.06);
  });

  it('noise with a tone twice as strong: less random, as simulated', () => {
    const noise = density(1, 200);
    const power = noise.density.reduce((s, v) => s + v, 0);
    noise.density[50]! += 4 * power;
    const simulated = spread(simulatedRms(4000, 4 * power));
    const stated = randomErrorWithTones(noise, 1);
    expect(Math.abs(simulated / stated - 1)).toBeLessThan(0.1);
    expect(randomErrorOfRms(statisticalBandwidthHz(noise), 1)).toBeGreaterThan(5 * stated);
  });

  it('is unbounded where nothing was measured', () => {
    expect(randomErrorOfRms(0, 1)).toBe(Number.POSITIVE_INFINITY);
    const silent = { stepHz: 1, density: new Float64Array(10), segments: 1 };
    expect(randomErrorWithTones(silent, 1)).toBe(Number.POSITIVE_INFINITY);
    expect(statisticalBandwidthHz(silent)).toBe(0);
  });
});
