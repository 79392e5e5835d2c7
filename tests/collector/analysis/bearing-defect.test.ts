import { describe, expect, it } from 'vitest';
import { findBearingDefect } from '../../../collector/analysis/bearing-defect.ts';
import { SIMULATED_HEALTHY } from '../../../collector/analysis/finding.ts';
import { bearingMultipliers } from '../../../collector/drivetrain/bearing.ts';
import { knownBearing } from '../../../collector/drivetrain/known-bearings.ts';
import { addDefect, gaussian, type Machine, seededRandom } from '../../support/machine-signals.ts';

const of6205 = bearingMultipliers(knownBearing('6205')!.geometry);
const machine: Machine = { rate: 12_800, seconds: 6, shaftHz: 29.2, statedHz: 29.2, multipliers: of6205 };

/** Noise with the shaft's first orders: the plainest healthy machine. */
function quiet(m: Machine, seed: number): Float64Array {
  const random = seededRandom(seed);
  return Float64Array.from({ length: Math.round(m.seconds * m.rate) }, (_, k) => {
    const angle = (2 * Math.PI * m.shaftHz * k) / m.rate;
    return gaussian(random) + Math.cos(angle) + 0.4 * Math.cos(2 * angle + 1) + 0.2 * Math.cos(3 * angle);
  });
}

function ask(samples: Float64Array, m: Machine = machine) {
  return findBearingDefect({
    samples,
    sampleRateHz: m.rate,
    shaftHz: m.statedHz,
    multipliers: m.multipliers,
  });
}

const faulty = (part: 'outer' | 'inner' | 'ball', seed: number, m: Machine = machine) =>
  addDefect(quiet(m, seed), m, { part, snrDb: -4, slip: -0.007, jitter: 0.003 }, seededRandom(seed + 50));

describe('findBearingDefect', () => {
  it('names outer race, inner race and ball of a 6205, at the slipped frequency, with its evidence', () => {
    const expected = { outer: of6205.outer, inner: of6205.inner, ball: 2 * of6205.ballSpin };
    for (const part of ['outer', 'inner', 'ball'] as const) {
      for (const seed of [1, 2, 3]) {
        const result = ask(faulty(part, seed));
        expect(result.verdict).toBe(part);
        const [first] = result.findings;
        expect(first!.kind).toBe(part);
        expect(first!.harmonics).toBeGreaterThanOrEqual(2);
        // Of a ball the fundamental may be one strike per spin.
        const ratio = first!.frequencyHz / (expected[part] * 29.2);
        expect(Math.min(Math.abs(ratio - 0.993), Math.abs(2 * ratio - 0.993))).toBeLessThan(0.008);
        expect(first!.falseAlarmProbability).toBe(1 / SIMULATED_HEALTHY);
      }
    }
  });

  it('finds nothing on the healthy machine, nor in silence', () => {
    for (let seed = 1; seed <= 10; seed++) {
      const result = ask(quiet(machine, seed));
      expect(result.verdict).toBe('none');
      expect(result.findings).toEqual([]);
    }
    expect(ask(new Float64Array(6 * 12_800)).verdict).toBe('none');
  });

  it('does not take strikes at a multiple of the shaft for a bearing part', () => {
    // Four strikes a turn, jittered like a bearing's, beside an inner race line at 4.95 with slip allowed.
    const strikes = { ...of6205, outer: 5 };
    const random = seededRandom(9);
    const signal = addDefect(
      quiet(machine, 4),
      { ...machine, multipliers: strikes },
      { part: 'outer', snrDb: -4, slip: 0, jitter: 0.0005 },
      random,
    );
    const of6203 = bearingMultipliers(knownBearing('6203')!.geometry);
    const result = ask(signal, { ...machine, multipliers: of6203 });
    expect(['none', 'not-clear']).toContain(result.verdict);
  });

  it("names no part of this bearing when another bearing's inner race strikes", () => {
    const of6203 = bearingMultipliers(knownBearing('6203')!.geometry);
    for (const seed of [1, 2, 3]) {
      const result = ask(faulty('inner', seed, { ...machine, multipliers: of6203 }), machine);
      expect(['none', 'not-clear']).toContain(result.verdict);
    }
  });

  it('bears a stated speed that is half a per cent off', () => {
    expect(ask(faulty('outer', 6), { ...machine, statedHz: 29.35 }).verdict).toBe('outer');
  });

  it('follows a speed that varies, given over time', () => {
    const speed = { name: 'shaft', timeS: [0, 3, 6], hz: [25, 34, 28] };
    const turns = (t: number) => (t < 3 ? 25 * t + 1.5 * t * t : 88.5 + 34 * (t - 3) - (t - 3) ** 2);
    const samples = quiet(machine, 7);
    let strike = 0;
    for (let k = 0; k < samples.length; k++) {
      if (turns(k / machine.rate) * of6205.outer < strike) continue;
      strike++;
      for (let m = 0; m < 80 && k + m < samples.length; m++) {
        samples[k + m]! += 7 * Math.exp(-m / 15) * Math.cos(1.7 * m);
      }
    }
    const meanHz = turns(6) / 6;
    const question = { samples, sampleRateHz: machine.rate, shaftHz: meanHz, multipliers: of6205 };
    const result = findBearingDefect({ ...question, speed });
    expect(result.verdict).toBe('outer');
    expect(result.findings[0]!.frequencyHz / meanHz).toBeCloseTo(of6205.outer, 1);
    expect(findBearingDefect(question).verdict).not.toBe('outer');
  });

  it('takes a band stated by the user', () => {
    const samples = faulty('outer', 1);
    const result = findBearingDefect({
      samples,
      sampleRateHz: machine.rate,
      shaftHz: machine.statedHz,
      multipliers: of6205,
      bandHz: [800, 6000],
    });
    expect(result.findings[0]!.bandHz![0]).toBeCloseTo(800, 0);
    expect(result.verdict).toBe('outer');
  });
});

describe('what a record cannot show', () => {
  it('a slow sensor: no lines prove little', () => {
    const slow = { ...machine, rate: 3200 };
    const result = ask(quiet(slow, 1), slow);
    expect(result.verdict).toBe('not-covered');
    expect(result.reason).toContain('1250 Hz');
    // A strong fault shows even so; at these low carriers its lines are narrow like tones, so doubt is fair.
    const strong = [1, 2, 3, 4].map((seed) => ask(faulty('outer', seed, slow), slow).verdict);
    expect(strong).toContain('outer');
    expect(strong.every((verdict) => verdict === 'outer' || verdict === 'not-clear')).toBe(true);
  });

  it('a short record, or a band too narrow for two harmonics', () => {
    const short = { ...machine, seconds: 0.1 };
    expect(ask(quiet(short, 1), short).verdict).toBe('not-covered');
    const slow = { ...machine, rate: 800, seconds: 20 };
    expect(ask(quiet(slow, 1), slow).reason).toContain('no band');
  });

  it('refuses a shaft that stands', () => {
    expect(() => ask(quiet(machine, 1), { ...machine, statedHz: 0 })).toThrow(/over 0/);
  });
});
