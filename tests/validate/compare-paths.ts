/**
 * Vibration paths from a source to a sensor, as complex gain over frequency. Two sets that share no family: the rule
 * was worked out on one, and its errors are counted on the other.
 */
import type { Random } from '../support/machine-signals.ts';

/** Complex gain at each frequency, real and imaginary parts in turn. */
export type Gain = (hz: number) => [number, number];

export const between = (random: Random, low: number, high: number) => low + (high - low) * random();

export type PathSet = 'design' | 'evaluation';

/**
 * smooth: one way, a gentle slope, ripple of 3 dB at most. rough: many ways at once that add up and cancel.
 * resonant: rough, with resonances that lift one location by 6 to 20 dB in their bands.
 */
export type PathKind = 'smooth' | 'rough' | 'resonant';

/** A path of one set; its overall size is set by `normalised`. */
export function randomPath(set: PathSet, kind: PathKind, highestHz: number, random: Random): Gain {
  if (kind === 'smooth') return set === 'design' ? singleEcho(random) : dampedMount(highestHz, random);
  if (set === 'design') return echoPath(kind === 'resonant', highestHz, random);
  return random() < 0.5
    ? modalPath(kind === 'resonant', highestHz, random)
    : reverberantPath(kind === 'resonant', highestHz, random);
}

/** The place at the source itself: direct, a little rough. */
export function directPath(random: Random): Gain {
  const ripple = between(random, 0, 0.25);
  const delay = between(random, 0.0001, 0.0006);
  const phase = 2 * Math.PI * random();
  return (hz) => [
    1 + ripple * Math.cos(2 * Math.PI * hz * delay + phase),
    ripple * Math.sin(2 * Math.PI * hz * delay + phase),
  ];
}

/** Power of a noise at each of a row of frequencies: where a path is heard. */
export interface NoiseSpectrum {
  hz: Float64Array;
  power: Float64Array;
}

/**
 * Scaled so that the noise loses `lossDb` on this path: the median of the gain over the noise's own power. Half of
 * the noise's power is let through better, half worse, so single resonances hardly move it.
 */
export function normalised(gain: Gain, lossDb: number, { hz, power }: NoiseSpectrum): Gain {
  const sizes = Array.from(hz, (f, k) => ({ size: Math.hypot(...gain(f)), power: power[k]! })).sort(
    (a, b) => a.size - b.size,
  );
  const half = power.reduce((sum, v) => sum + v, 0) / 2;
  let below = 0;
  const middle = sizes.find((one) => {
    below += one.power;
    return below >= half;
  })!;
  const scale = 10 ** (-lossDb / 20) / middle.size;
  return (f) => {
    const [re, im] = gain(f);
    return [re * scale, im * scale];
  };
}

/** Design, smooth: one way, one weak echo, a slope of up to 1 dB per octave. */
function singleEcho(random: Random): Gain {
  const first = between(random, 0.0001, 0.003);
  const echo = between(random, -0.3, 0.3);
  const delay = between(random, 0.0002, 0.004);
  const slope = between(random, -1, 1);
  return (hz) => {
    const [a, b] = turn(hz, first, 1);
    const [c, d] = turn(hz, first + delay, echo);
    const tilt = 10 ** ((slope * Math.log2(Math.max(hz, 20) / 400)) / 20);
    return [(a + c) * tilt, (b + d) * tilt];
  };
}

/** Evaluation, smooth: through a well-damped mount and a sheet, two broad modes beside the direct way. */
function dampedMount(highestHz: number, random: Random): Gain {
  const modes = Array.from({ length: 2 }, () => ({
    hz: 30 * (highestHz / 30) ** random(),
    zeta: between(random, 0.25, 0.5),
    size: between(random, -0.2, 0.2),
  }));
  const delay = between(random, 0.0001, 0.004);
  const softHz = between(random, 0.7, 3) * highestHz;
  return (hz) => {
    let [re, im] = turn(hz, delay, 1);
    for (const mode of modes) {
      const r = hz / mode.hz;
      const d = 1 - r * r;
      const b = 2 * mode.zeta * r;
      const scale = mode.size / (d * d + b * b);
      re += scale * d;
      im -= scale * b;
    }
    const low = 1 / Math.sqrt(1 + (hz / softHz) ** 2);
    return [re * low, im * low];
  };
}

/** Design: direct way plus a few echoes, a gentle slope, and resonances as multiplied peaks. */
function echoPath(resonant: boolean, highestHz: number, random: Random): Gain {
  const echoes = Array.from({ length: 1 + Math.floor(4 * random()) }, () => ({
    size: between(random, -0.4, 0.4),
    delay: between(random, 0.0002, 0.004),
  }));
  const first = between(random, 0.0001, 0.002);
  const slope = between(random, -4, 3);
  const peaks = resonant
    ? Array.from({ length: 1 + Math.floor(3 * random()) }, () => peak(highestHz, random))
    : [];
  return (hz) => {
    let [re, im] = turn(hz, first, 1);
    for (const { size, delay } of echoes) {
      const [a, b] = turn(hz, first + delay, size);
      re += a;
      im += b;
    }
    const tilt = 10 ** ((slope * Math.log2(Math.max(hz, 20) / 400)) / 20);
    return peaks.reduce<[number, number]>((value, one) => times(value, one(hz)), [re * tilt, im * tilt]);
  };
}

/** 6 to 20 dB at the peak, damping 1 to 6 %: 1 + A b / (1 - r² + b) with b = 2 i zeta r. */
function peak(highestHz: number, random: Random): Gain {
  const hz0 = 40 * (highestHz / 50) ** random();
  const zeta = between(random, 0.01, 0.06);
  const boost = 10 ** (between(random, 6, 20) / 20) - 1;
  return (hz) => {
    const r = hz / hz0;
    const b = 2 * zeta * r;
    const d = 1 - r * r;
    const size = d * d + b * b;
    return [1 + (boost * b * b) / size, (boost * b * d) / size];
  };
}

/**
 * Evaluation: sum of the structure's modes, r² / (1 - r² + 2 i zeta r), beside a direct part. Plain structures are
 * heavily damped (rubber, sheet with damping mats), resonant ones have lightly damped modes that stand out.
 */
function modalPath(resonant: boolean, highestHz: number, random: Random): Gain {
  const modes = Array.from({ length: 10 }, () => ({
    hz: 25 * (highestHz / 20) ** random(),
    zeta: between(random, 0.15, 0.4),
    size: between(random, -0.5, 0.5),
  }));
  if (resonant) {
    for (let k = 1 + Math.floor(4 * random()); k > 0; k--) {
      const zeta = between(random, 0.008, 0.05);
      // A mode of gain 1 / (2 zeta) would peak at 10 to 60: brought to 2 to 10 times the rest.
      modes.push({
        hz: 40 * (highestHz / 50) ** random(),
        zeta,
        size: (random() < 0.5 ? -1 : 1) * 2 * zeta * between(random, 2, 10),
      });
    }
  }
  return (hz) => {
    let [re, im] = [1, 0];
    for (const mode of modes) {
      const r = hz / mode.hz;
      const d = 1 - r * r;
      const b = 2 * mode.zeta * r;
      const scale = (mode.size * r * r) / (d * d + b * b);
      re += scale * d;
      im -= scale * b;
    }
    return [re, im];
  };
}

/** Evaluation: many ways at once, a burst of random arrivals that dies away; resonant: some long-lived tails in it. */
function reverberantPath(resonant: boolean, highestHz: number, random: Random): Gain {
  const decayS = between(random, 0.0003, 0.002);
  const arrivals = Array.from({ length: 24 }, () => {
    const delay = 3 * decayS * random();
    return { delay: delay + 0.0005, size: Math.exp(-delay / decayS) * between(random, -0.6, 0.6) };
  });
  arrivals.push({ delay: 0.0004, size: 1 });
  const soft = random() < 0.3 ? between(random, 0.3, 1) * highestHz : null;
  const tails = resonant
    ? Array.from({ length: 1 + Math.floor(4 * random()) }, () => {
        const hz = 40 * (highestHz / 50) ** random();
        const zeta = between(random, 0.008, 0.05);
        return { hz, zeta, size: between(random, 2, 9), phase: 2 * Math.PI * random() };
      })
    : [];
  return (hz) => {
    let [re, im] = [0, 0];
    for (const { delay, size } of arrivals) {
      const [a, b] = turn(hz, delay, size);
      re += a;
      im += b;
    }
    for (const tail of tails) {
      // exp(-2 pi zeta f0 t) at f0 has the transform 1 / (1 + i (f - f0) / (zeta f0)), scaled to its peak.
      const x = (hz - tail.hz) / (tail.zeta * tail.hz);
      const scale = tail.size / (1 + x * x);
      re += scale * (Math.cos(tail.phase) + x * Math.sin(tail.phase));
      im += scale * (Math.sin(tail.phase) - x * Math.cos(tail.phase));
    }
    const low = soft === null ? 1 : 1 / Math.sqrt(1 + (hz / soft) ** 2);
    return [re * low, im * low];
  };
}

function turn(hz: number, delayS: number, size: number): [number, number] {
  const angle = -2 * Math.PI * hz * delayS;
  return [size * Math.cos(angle), size * Math.sin(angle)];
}

function times(a: [number, number], b: [number, number]): [number, number] {
  return [a[0] * b[0] - a[1] * b[1], a[0] * b[1] + a[1] * b[0]];
}
