import { describe, expect, it } from 'vitest';
import { compareSides, findRaps, repeatedModes, ringDowns } from '../../../collector/tap/index.ts';
import { seededRandom } from '../../support/machine-signals.ts';
import { type TrueMode, tapCapture } from './ring-signals.ts';

function side(modes: TrueMode[], seed: number, raps = 3) {
  const random = seededRandom(seed);
  // Where the striker lands moves a mode a little from rap to rap: 0.3 %.
  return Array.from({ length: raps }, () => {
    const moved = modes.map((mode) => ({
      ...mode,
      frequencyHz: mode.frequencyHz * (1 + 0.003 * (2 * random() - 1)),
    }));
    return ringDowns(
      tapCapture(moved, { rateHz: 3200, seconds: 1.5, rapsAtS: [0.4], noise: 0.1, random }),
      3200,
    )[0]!;
  });
}
const shield = (frequencyHz: number, dampingRatio = 0.015): TrueMode[] => [
  { frequencyHz, dampingRatio, amplitude: 10 },
  { frequencyHz: 2.4 * frequencyHz, dampingRatio: 0.01, amplitude: 3 },
];

describe('left against right', () => {
  it('names a difference beyond uncertainty', () => {
    const { pairs, sentence } = compareSides('shield', side(shield(212), 1), side(shield(248), 2));
    expect(pairs[0]!.frequencyDiffers).toBe(true);
    expect(pairs[0]!.differenceHz).toBeCloseTo(36, -0.5);
    expect(sentence).toMatch(
      /^The left shield rings at 21\d\.\d ± .* Hz .*, the right one at 24\d\.\d .*beyond its uncertainty/,
    );
  });

  it('stays quiet about like parts', () => {
    const { pairs, sentence } = compareSides('bracket', side(shield(212), 3), side(shield(212), 4));
    expect(pairs[0]!.frequencyDiffers).toBe(false);
    expect(sentence).toMatch(/within its uncertainty/);
  });

  it('names more damping', () => {
    const { pairs, sentence } = compareSides('shield', side(shield(212), 5), side(shield(212, 0.06), 6));
    expect(pairs[0]!.dampingDiffers).toBe(true);
    expect(sentence).toMatch(/the right one is more damped/);
  });

  it('assumes 1 % with one rap only, so that 1 Hz is no difference', () => {
    const { pairs } = compareSides('shield', side(shield(212), 7, 1), side(shield(213.5), 8, 1));
    expect(pairs[0]!.left.uncertaintyFrom).toBe('assumed');
    expect(pairs[0]!.frequencyDiffers).toBe(false);
  });

  it('says so where modes do not match, or one side does not ring', () => {
    expect(compareSides('shield', side([shield(120)[0]!], 9), side([shield(300)[0]!], 10)).sentence).toMatch(
      /no mode of one is near/,
    );
    const dead = [{ ...side(shield(212), 11, 1)[0]!, modes: [] }];
    expect(compareSides('shield', dead, side(shield(212), 12)).sentence).toMatch(
      /left shield shows no clear ringing/,
    );
  });

  it('the scatter of raps covers the true mean as often as stated', () => {
    let held = 0;
    for (let seed = 200; seed < 260; seed++) {
      const [mode] = repeatedModes(side([shield(212)[0]!], seed, 4));
      if (Math.abs(mode!.frequencyHz - 212) <= mode!.frequencyUncertaintyHz) held++;
    }
    expect(held).toBeGreaterThanOrEqual(52);
  });
});

describe('finding raps', () => {
  it('finds each of several raps and their onset within a millisecond', () => {
    const at = [0.3, 1.1, 1.9];
    const samples = tapCapture([{ frequencyHz: 180, dampingRatio: 0.03, amplitude: 5 }], {
      rateHz: 3200,
      seconds: 3,
      rapsAtS: at,
      noise: 0.05,
      random: seededRandom(20),
    });
    const raps = findRaps(samples, 3200);
    expect(raps).toHaveLength(3);
    raps.forEach(({ onset, noise }, r) => {
      expect(Math.abs(onset / 3200 - at[r]!)).toBeLessThan(0.001);
      expect(noise).toBeCloseTo(0.05, 1);
    });
  });

  it('finds none in noise, however long', () => {
    expect(
      findRaps(
        tapCapture([], { rateHz: 3200, seconds: 60, rapsAtS: [], noise: 2, random: seededRandom(21) }),
        3200,
      ),
    ).toEqual([]);
  });

  it('takes gravity for what it is', () => {
    const samples = tapCapture([{ frequencyHz: 180, dampingRatio: 0.03, amplitude: 5 }], {
      rateHz: 3200,
      seconds: 1,
      rapsAtS: [0.5],
      noise: 0.05,
      random: seededRandom(22),
    }).map((v) => v + 9.81);
    expect(findRaps(samples, 3200)).toHaveLength(1);
  });

  it('refuses too little', () => {
    expect(() => findRaps(new Float64Array(3), 3200)).toThrow(/at least 16 samples/);
    expect(() => findRaps(new Float64Array(100), 0)).toThrow(/sample rate/);
  });
});
