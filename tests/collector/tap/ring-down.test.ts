import { describe, expect, it } from 'vitest';
import { ringDowns } from '../../../collector/tap/index.ts';
import { seededRandom } from '../../support/machine-signals.ts';
import { type TrueMode, tapCapture } from './ring-signals.ts';

const SHIELD: TrueMode = { frequencyHz: 212, dampingRatio: 0.015, amplitude: 10 };

function one(modes: TrueMode[], noise: number, seed: number, colour = 0, rateHz = 3200) {
  const random = seededRandom(seed);
  const samples = tapCapture(modes, { rateHz, seconds: 1.5, rapsAtS: [0.4], noise, random, colour });
  return ringDowns(samples, rateHz)[0]!;
}

describe('ring-down of a rap, analytic damped sines', () => {
  it('gives frequency, damping and logarithmic decrement without noise', () => {
    const { modes, explainedShare } = one([SHIELD], 1e-6, 1);
    expect(modes).toHaveLength(1);
    expect(modes[0]!.frequencyHz).toBeCloseTo(212, 3);
    expect(modes[0]!.dampingRatio).toBeCloseTo(0.015, 6);
    // 2 pi z / sqrt(1 - z²)
    expect(modes[0]!.logDecrement).toBeCloseTo(0.0942584, 5);
    expect(explainedShare).toBeGreaterThan(0.9999);
  });

  it('finds several modes, strongest first, also of very different damping', () => {
    const truth: TrueMode[] = [
      { frequencyHz: 95, dampingRatio: 0.04, amplitude: 6 },
      { frequencyHz: 212, dampingRatio: 0.01, amplitude: 10 },
      { frequencyHz: 530, dampingRatio: 0.005, amplitude: 4 },
    ];
    const { modes } = one(truth, 0.05, 2);
    expect(modes).toHaveLength(3);
    for (const { frequencyHz, dampingRatio } of truth) {
      const found = modes.find((mode) => Math.abs(mode.frequencyHz - frequencyHz) < 2)!;
      expect(Math.abs(found.frequencyHz - frequencyHz)).toBeLessThan(2 * found.frequencyUncertaintyHz);
      expect(Math.abs(found.dampingRatio - dampingRatio)).toBeLessThan(2 * found.dampingUncertainty);
    }
  });

  it('tells two modes 6 Hz apart', () => {
    const { modes } = one([SHIELD, { frequencyHz: 218, dampingRatio: 0.006, amplitude: 8 }], 0.05, 3);
    const found = modes.map(({ frequencyHz }) => frequencyHz).sort((a, b) => a - b);
    expect(found).toHaveLength(2);
    expect(found[0]).toBeCloseTo(212, 0);
    expect(found[1]).toBeCloseTo(218, 0);
  });

  it('is not misled by a striker that bounces', () => {
    const alone = one([SHIELD], 0.02, 4).modes[0]!;
    const random = seededRandom(5);
    const samples = tapCapture([SHIELD], { rateHz: 3200, seconds: 1.5, rapsAtS: [0.4], noise: 0.02, random });
    // The same part hit again 28 ms later, 0.6 times as hard.
    const late = Math.round(0.028 * 3200);
    const clean = tapCapture([SHIELD], { rateHz: 3200, seconds: 1.5, rapsAtS: [0.4], noise: 0, random });
    for (let k = samples.length - 1; k >= late; k--) samples[k]! += 0.6 * (clean[k - late]! - clean[0]!);
    const { modes, from } = ringDowns(samples, 3200)[0]!;
    expect(from).toBeGreaterThan(0.428 * 3200);
    expect(Math.abs(modes[0]!.frequencyHz - 212)).toBeLessThan(2 * modes[0]!.frequencyUncertaintyHz);
    expect(Math.abs(modes[0]!.dampingRatio - 0.015)).toBeLessThan(2 * modes[0]!.dampingUncertainty);
    expect(modes[0]!.dampingUncertainty).toBeGreaterThan(alone.dampingUncertainty);
  });

  it('widens by the tolerance of the sample rate', () => {
    const samples = tapCapture([SHIELD], {
      rateHz: 3200,
      seconds: 1.5,
      rapsAtS: [0.4],
      noise: 0.01,
      random: seededRandom(4),
    });
    const [mode] = ringDowns(samples, 3200, { sampleRateToleranceShare: 0.02 })[0]!.modes;
    expect(mode!.frequencyUncertaintyHz).toBeGreaterThan(0.0199 * 212);
  });

  it('says what is wrong with a record that holds no rap', () => {
    const random = seededRandom(5);
    const quiet = tapCapture([], { rateHz: 3200, seconds: 1, rapsAtS: [], noise: 1, random });
    expect(() => ringDowns(quiet, 3200)).toThrow(/holds no rap.*rap harder/);
    const cut = tapCapture([SHIELD], { rateHz: 3200, seconds: 1, rapsAtS: [0.99], noise: 0.01, random });
    expect(() => ringDowns(cut, 3200)).toThrow(/no rap is followed by 30 ms/);
  });

  /** A dead part: the contact alone, no ringing. */
  it('finds no mode where nothing rings', () => {
    let found = 0;
    for (let seed = 100; seed < 140; seed++)
      found += one([{ ...SHIELD, amplitude: 5, dampingRatio: 0.6 }], 0.05, seed).modes.length;
    expect(found).toBeLessThanOrEqual(1);
  });
});

/**
 * Twice the standard deviation of a Gaussian error holds 95.4 % of the time. 150 random cases: the share held has a
 * standard deviation of 1.7 %, so 90 % and more is within three of them.
 */
describe('stated uncertainty holds as often as stated', () => {
  it.each([
    ['white noise', 0],
    ['noise that falls with frequency', 0.8],
  ])('%s', (_, colour) => {
    const cases = 150;
    let [frequencyHeld, dampingHeld, missed] = [0, 0, 0];
    for (let seed = 1; seed <= cases; seed++) {
      const random = seededRandom(7000 + seed);
      const truth: TrueMode = {
        frequencyHz: 60 + 400 * random(),
        dampingRatio: 0.004 + 0.03 * random(),
        amplitude: 10,
      };
      const samples = tapCapture([truth], {
        rateHz: 3200,
        seconds: 0.9,
        rapsAtS: [0.3],
        noise: 0.3 + random(),
        random,
        colour,
      });
      const mode = ringDowns(samples, 3200)[0]!.modes[0];
      if (mode === undefined || Math.abs(mode.frequencyHz - truth.frequencyHz) > 20) {
        missed++;
        continue;
      }
      if (Math.abs(mode.frequencyHz - truth.frequencyHz) <= mode.frequencyUncertaintyHz) frequencyHeld++;
      if (Math.abs(mode.dampingRatio - truth.dampingRatio) <= mode.dampingUncertainty) dampingHeld++;
    }
    expect(missed).toBeLessThanOrEqual(3);
    for (const held of [frequencyHeld, dampingHeld]) {
      expect(held / (cases - missed)).toBeGreaterThan(0.9);
      expect(held / (cases - missed)).toBeLessThan(1);
    }
  });
});
