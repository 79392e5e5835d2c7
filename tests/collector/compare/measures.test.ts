import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import {
  bandPower,
  levelOfPower,
  randomErrorDb,
  statisticalBandwidthHz,
} from '../../../collector/compare/band-power.ts';
import { coherence } from '../../../collector/compare/coherence.ts';
import { comodulation } from '../../../collector/compare/comodulation.ts';
import { thirdOctaves } from '../../../collector/compare/index.ts';
import type { LocationRecord } from '../../../collector/compare/question.ts';
import { studentQuantile, studentUpperTail } from '../../../collector/compare/student-t.ts';
import { welch } from '../../../collector/dsp/spectrum.ts';
import { gaussian, seededRandom } from '../../support/machine-signals.ts';
import { uniform } from '../../support/signals.ts';

interface Golden {
  tQuantiles: { tail: number; dof: number; t: number }[];
  coherence: { middleHz: number; value: number }[];
}
/** Worked out with scipy: see tests/golden/compare.py. */
const golden = JSON.parse(
  readFileSync(new URL('../../golden/compare.json', import.meta.url), 'utf8'),
) as Golden;

const noise = (seed: number, count: number, sigma = 1) => {
  const random = seededRandom(seed);
  return Float64Array.from({ length: count }, () => sigma * gaussian(random));
};
const record = (
  id: string,
  board: string,
  samples: Float64Array,
  more: Partial<LocationRecord> = {},
): LocationRecord => ({
  id,
  name: id,
  board,
  sampleRateHz: 3200,
  axes: [samples],
  timeUncertaintyMs: 0,
  ...more,
});
const windows = (count: number) => Array.from({ length: count }, (_, w) => w);

describe('third octaves of IEC 61260-1, base ten', () => {
  const bands = thirdOctaves(20, 1300);
  it('have the nominal middles of ISO 266', () => {
    expect(bands.map(({ nominalHz }) => nominalHz)).toEqual([
      25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000,
    ]);
  });
  it('touch without gap, three to 10^0.3', () => {
    for (let b = 1; b < bands.length; b++) expect(bands[b]!.fromHz).toBeCloseTo(bands[b - 1]!.toHz, 9);
    expect(bands[3]!.centreHz / bands[0]!.centreHz).toBeCloseTo(10 ** 0.3, 12);
    // Edges of the 1 kHz band: 891.25 and 1122.02 Hz (IEC 61260-1, table of band edges).
    expect(bands.at(-1)!.fromHz).toBeCloseTo(891.2509, 4);
    expect(bands.at(-1)!.toHz).toBeCloseTo(1122.0185, 4);
  });
  it('stay whole inside the range, and refuse none', () => {
    expect(thirdOctaves(100, 110)).toEqual([]);
    expect(() => thirdOctaves(0, 100)).toThrow(/over 0 Hz/);
  });
});

describe('levels', () => {
  it('of all bands add up to the power of the whole', () => {
    const spectrum = welch(noise(1, 32_000), 3200, { segmentSamples: 1600 });
    const bands = thirdOctaves(20, 1300);
    const sum = bands.reduce((total, band) => total + bandPower(spectrum, band), 0);
    expect(sum).toBeCloseTo(bandPower(spectrum, { fromHz: bands[0]!.fromHz, toHz: bands.at(-1)!.toHz }), 12);
  });
  it('of a sine: A²/2 in its band, as dB re 1 µm/s²', () => {
    const sine = Float64Array.from(
      { length: 32_000 },
      (_, k) => 2 * Math.sin((2 * Math.PI * 500 * k) / 3200),
    );
    const power = bandPower(welch(sine, 3200, { segmentSamples: 1600 }), { fromHz: 447, toHz: 562 });
    expect(power).toBeCloseTo(2, 9);
    // 20 log10(sqrt 2 / 1e-6)
    expect(levelOfPower(power)).toBeCloseTo(123.0103, 4);
  });
  it('random error of a flat band is that of its width: scatter of many windows', () => {
    const band = { fromHz: 400, toHz: 500 };
    const long = noise(2, 3200 * 400);
    const levels = windows(400).map((w) =>
      levelOfPower(
        bandPower(welch(long.subarray(3200 * w, 3200 * (w + 1)), 3200, { segmentSamples: 1600 }), band),
      ),
    );
    const mean = levels.reduce((s, v) => s + v, 0) / levels.length;
    const sd = Math.sqrt(levels.reduce((s, v) => s + (v - mean) ** 2, 0) / (levels.length - 1));
    const spectrum = welch(long, 3200, { segmentSamples: 1600 });
    const width = statisticalBandwidthHz(spectrum, band, spectrum.segments);
    expect(width).toBeGreaterThan(92);
    expect(width).toBeLessThanOrEqual(100);
    // 10 log10(e) / sqrt(100 x 1 s) = 0.434 dB; the ends of a window weigh less, so up to a fifth more.
    expect(sd / randomErrorDb(width, 1)).toBeGreaterThan(0.95);
    expect(sd / randomErrorDb(width, 1)).toBeLessThan(1.25);
  });
  it('statistical bandwidth of a tone is about one line', () => {
    const tone = Float64Array.from({ length: 32_000 }, (_, k) => Math.sin((2 * Math.PI * 450 * k) / 3200));
    const spectrum = welch(tone, 3200, { segmentSamples: 1600 });
    expect(statisticalBandwidthHz(spectrum, { fromHz: 400, toHz: 500 }, spectrum.segments)).toBeLessThan(5);
  });
});

describe("Student's t against scipy", () => {
  it.each(golden.tQuantiles)('tail $tail, $dof degrees of freedom', ({ tail, dof, t }) => {
    expect(studentQuantile(tail, dof) / t).toBeCloseTo(1, 8);
    expect(studentUpperTail(t, dof)).toBeCloseTo(tail, 8);
    expect(studentUpperTail(-t, dof)).toBeCloseTo(1 - tail, 8);
  });
  it('refuses tails and degrees that are none', () => {
    expect(() => studentQuantile(0.6, 5)).toThrow(/tail/);
    expect(() => studentQuantile(0.1, 0)).toThrow(/dof/);
  });
});

describe('coherence on one board', () => {
  it('agrees with scipy on the same samples', () => {
    const [ua, u1, u2] = [1, 2, 3].map((seed) => uniform(seed));
    const count = 3200 * 8;
    const x = new Float64Array(count);
    const y = new Float64Array(count);
    const a = new Float64Array(count);
    let last = 0;
    for (let k = 0; k < count; k++) {
      a[k] = ua!() - 0.5;
      last = a[k]! + 0.6 * (a[k - 1] ?? 0) - 0.4 * (a[k - 4] ?? 0) + 0.5 * last;
      x[k] = a[k]! + 0.5 * (u1!() - 0.5);
      y[k] = last + 0.8 * (u2!() - 0.5);
    }
    const bands = golden.coherence.map(({ middleHz }) => ({
      nominalHz: 0,
      centreHz: middleHz,
      fromHz: middleHz * 10 ** -0.05,
      toHz: middleHz * 10 ** 0.05,
    }));
    const perSecond = coherence(record('a', 'b', x), record('c', 'b', y), bands, windows(8), 1);
    golden.coherence.forEach(({ value }, b) => {
      expect(perSecond.byBand[b]).toBeCloseTo(value, 9);
    });
  });
  it('is 1 through any path with three axes, 0 for independent noise', () => {
    const source = noise(3, 64_000);
    const delayed = (by: number, gain: number) => source.map((_, k) => gain * (source[k - by] ?? 0));
    const bands = thirdOctaves(50, 1200);
    const near = record('near', 'b', source, { axes: [delayed(0, 1), delayed(1, -0.4), delayed(2, 0.2)] });
    const far = record('far', 'b', source, { axes: [delayed(5, 0.3), delayed(9, 0.1), delayed(7, 0.5)] });
    for (const value of coherence(near, far, bands, windows(20), 1).byBand)
      expect(value).toBeGreaterThan(0.97);
    const other = record('other', 'b', noise(4, 64_000));
    const alone = coherence(near, other, bands, windows(20), 1);
    for (const value of alone.byBand) expect(value).toBeLessThan(alone.chanceLimit);
  });
  it('refuses two boards', () => {
    const samples = noise(5, 3200);
    expect(() => coherence(record('a', 'b1', samples), record('c', 'b2', samples), [], [0], 1)).toThrow(
      /do not share a clock/,
    );
  });
});

describe('levels over time between boards', () => {
  const swell = (seed: number, shift: number) => {
    const carrier = noise(seed, 64_000);
    return carrier.map(
      (v, k) =>
        v * (1 + 0.8 * Math.sin((2 * Math.PI * 0.7 * (k - shift)) / 3200) * Math.sin((k - shift) / 900)),
    );
  };
  const band = { fromHz: 200, toHz: 1200 };
  it('go together where both hear the same, and the lag within the clocks is given', () => {
    const a = record('a', 'b1', swell(6, 0), { timeUncertaintyMs: 60 });
    const b = record('c', 'b2', swell(7, 400), { timeUncertaintyMs: 90 });
    const together = comodulation(a, b, band, windows(20), 1)!;
    expect(together.significant).toBe(true);
    expect(together.correlation).toBeGreaterThan(0.7);
    expect(together.clockErrorMs).toBe(150);
    // 400 samples at 3200 per second.
    expect(together.lagMs).toBe(125);
  });
  it('are seldom called so where they have nothing in common', () => {
    let called = 0;
    for (let seed = 20; seed < 80; seed++) {
      const a = record('a', 'b1', noise(seed, 64_000), { timeUncertaintyMs: 100 });
      const b = record('c', 'b2', noise(seed + 500, 64_000), { timeUncertaintyMs: 100 });
      if (comodulation(a, b, band, windows(20), 1)!.significant) called++;
    }
    expect(called).toBeLessThanOrEqual(3);
  });
  it('are not compared where a clock is not known, or far off', () => {
    const a = record('a', 'b1', swell(6, 0));
    expect(
      comodulation(a, record('c', 'b2', swell(7, 0), { timeUncertaintyMs: null }), band, windows(20), 1),
    ).toBeNull();
    expect(
      comodulation(a, record('c', 'b2', swell(7, 0), { timeUncertaintyMs: 900 }), band, windows(20), 1),
    ).toBeNull();
  });
});
