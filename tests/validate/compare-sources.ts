/** Noises that a component may make: broadband, in a band, impulsive, tone-like. All with RMS 1. */
import { gaussian, type Random } from '../support/machine-signals.ts';
import { between } from './compare-paths.ts';

export type SourceKind = 'broadband' | 'band' | 'impulsive' | 'mesh' | 'sweep' | 'tone';
export const SOURCE_KINDS: SourceKind[] = ['broadband', 'band', 'impulsive', 'mesh', 'sweep', 'tone'];

export interface Source {
  samples: Float64Array;
  /** How often an impulsive source strikes; null for the others. */
  repeatsHz: number | null;
}

export function sourceSignal(kind: SourceKind, rate: number, count: number, random: Random): Source {
  const strikesHz = between(random, 12, 120);
  const samples = MAKERS[kind](rate, count, random, strikesHz);
  if (random() < 0.5) swell(samples, rate, random);
  const rms = Math.sqrt(samples.reduce((sum, v) => sum + v * v, 0) / count);
  return { samples: samples.map((v) => v / rms), repeatsHz: kind === 'impulsive' ? strikesHz : null };
}

type Maker = (rate: number, count: number, random: Random, strikesHz: number) => Float64Array;

const MAKERS: Record<SourceKind, Maker> = {
  broadband: (rate, count, random) => {
    // Somewhere between white noise and noise that falls with frequency.
    const share = between(random, 0, 0.85);
    const pole = Math.exp((-2 * Math.PI * between(random, 60, 400)) / rate);
    let low = 0;
    return Float64Array.from({ length: count }, () => {
      const white = gaussian(random);
      low = pole * low + (1 - pole) * white;
      return (1 - share) * white + share * low * 6;
    });
  },
  band: (rate, count, random) => {
    // Two resonators a good octave apart carry the ends of the band.
    const from = 80 * (rate / 1200) ** random();
    const noise = Float64Array.from({ length: count }, () => gaussian(random));
    const octaves = between(random, 1, 2);
    const out = new Float64Array(count);
    for (let k = 0; k < 5; k++) {
      const part = resonated(noise, rate, from * 2 ** ((octaves * k) / 4), 0.1);
      for (let i = 0; i < count; i++) out[i]! += (k % 2 === 0 ? 1 : -1) * part[i]!;
    }
    return out;
  },
  impulsive: (rate, count, random, strikesHz) => {
    const period = rate / strikesHz;
    const hits = new Float64Array(count);
    for (let t = period * random(); t < count - 2; t += period * (1 + 0.005 * gaussian(random))) {
      hits[Math.floor(t)]! += 1 + 0.2 * gaussian(random);
    }
    const out = hits.map((v) => 0.3 * v);
    for (let k = 0; k < 3; k++) {
      const part = resonated(hits, rate, between(random, 0.05, 0.38) * rate, between(random, 0.03, 0.12));
      for (let i = 0; i < count; i++) out[i]! += part[i]!;
    }
    return out;
  },
  mesh: (rate, count, random) => {
    const hz = between(random, 60, 220);
    const sizes = Array.from({ length: 7 }, (_, h) => between(random, 0.2, 1) / (1 + 0.4 * h));
    const side = between(random, 0, 0.4);
    const shaftHz = hz / (13 + Math.floor(20 * random()));
    return tones(
      rate,
      count,
      sizes,
      (t) => hz * (1 + 0.015 * Math.sin(0.7 * t)),
      (t) => 1 + side * Math.cos(2 * Math.PI * shaftHz * t),
      random,
    );
  },
  sweep: (rate, count, random) => {
    const from = between(random, 60, 180);
    const times = between(random, 1.5, 2.2);
    const seconds = count / rate;
    return tones(
      rate,
      count,
      [1, 0.6, 0.4],
      (t) => from * times ** (t / seconds),
      () => 1,
      random,
    );
  },
  tone: (rate, count, random) => {
    const hz = 60 * (rate / 200) ** random();
    return tones(
      rate,
      count,
      [1],
      () => hz,
      () => 1,
      random,
    );
  },
};

function tones(
  rate: number,
  count: number,
  sizes: number[],
  hzAt: (t: number) => number,
  gainAt: (t: number) => number,
  random: Random,
): Float64Array {
  const phases = sizes.map(() => 2 * Math.PI * random());
  let angle = 0;
  return Float64Array.from({ length: count }, (_, k) => {
    const t = k / rate;
    const hz = hzAt(t);
    angle += (2 * Math.PI * hz) / rate;
    let sum = 0;
    sizes.forEach((size, h) => {
      if ((h + 1) * hz < 0.42 * rate) sum += size * Math.cos((h + 1) * angle + phases[h]!);
    });
    return gainAt(t) * sum;
  });
}

/** Load and road make a noise swell: this is what levels at two boards have in common. */
function swell(samples: Float64Array, rate: number, random: Random): void {
  const depth = between(random, 0.1, 0.6);
  const parts = Array.from({ length: 4 }, () => ({
    hz: between(random, 0.1, 3),
    phase: 2 * Math.PI * random(),
  }));
  for (let k = 0; k < samples.length; k++) {
    const wave =
      parts.reduce((sum, { hz, phase }) => sum + Math.sin((2 * Math.PI * hz * k) / rate + phase), 0) / 4;
    samples[k]! *= 1 + depth * 2 * wave;
  }
}

/** Two-pole resonator, roughly unit gain at its peak. */
function resonated(samples: Float64Array, rate: number, hz: number, zeta: number): Float64Array {
  const w = (2 * Math.PI * hz) / rate;
  const radius = Math.exp(-zeta * w);
  const [a1, a2] = [2 * radius * Math.cos(w), -radius * radius];
  const gain = (1 - radius) * 2 * Math.sin(w);
  let [y1, y2] = [0, 0];
  return samples.map((v) => {
    const y = gain * v + a1 * y1 + a2 * y2;
    y2 = y1;
    y1 = y;
    return y;
  });
}
