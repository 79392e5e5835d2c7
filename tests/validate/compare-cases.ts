/** Synthetic feed-through: one noise, several locations, and the location it is made at known. */
import type { CompareQuestion, LocationRecord } from '../../collector/compare/index.ts';
import { complexFft, nextPowerOfTwo } from '../../collector/dsp/fft.ts';
import { gaussian, type Random, seededRandom } from '../support/machine-signals.ts';
import {
  between,
  directPath,
  type Gain,
  type NoiseSpectrum,
  normalised,
  type PathKind,
  type PathSet,
  randomPath,
} from './compare-paths.ts';
import { SOURCE_KINDS, type SourceKind, sourceSignal } from './compare-sources.ts';

/** Where the noise is made: at a location, over paths of one kind, or at none of them. */
export type Truth = PathKind | 'common-cause' | 'nearer-outside';

export interface Case {
  question: CompareQuestion;
  /** Id of the true location; null where the source has no sensor. */
  sourceId: string | null;
  truth: Truth;
  kind: SourceKind;
  /** Loss of the nearest path, dB: median over the noise's own power. */
  differenceDb: number;
  /** Noise over own background at the loudest location, dB. */
  noiseToBackgroundDb: number;
  marked: boolean;
  /** Largest error of the sensors, and what is stated of them. */
  toleranceShare: number;
  /** How often an impulsive source strikes, in strikes per second; null for the others. */
  repeatsHz: number | null;
}

const SECONDS = 20;
const TRUTHS: { upTo: number; truth: Truth }[] = [
  { upTo: 0.35, truth: 'smooth' },
  { upTo: 0.5, truth: 'rough' },
  { upTo: 0.8, truth: 'resonant' },
  { upTo: 0.95, truth: 'common-cause' },
  { upTo: 1, truth: 'nearer-outside' },
];

export function randomCase(set: PathSet, seed: number, differences: readonly number[]): Case {
  const random = seededRandom((set === 'design' ? 1_000_000 : 2_000_000) + seed);
  const pick = random();
  const truth = TRUTHS.find(({ upTo }) => pick < upTo)!.truth;
  const kind = SOURCE_KINDS[Math.floor(SOURCE_KINDS.length * random())]!;
  const differenceDb = differences[Math.floor(differences.length * random())]!;
  const rate = random() < 0.8 ? 3200 : 6400;
  const highestHz = rate / 2.56;
  const count = SECONDS * rate;
  const locations = 2 + Math.floor(3.5 * random());
  const marked = random() < 0.5;
  const noiseToBackgroundDb = marked ? between(random, 0, 20) : between(random, 8, 25);
  const { samples: source, repeatsHz } = sourceSignal(kind, rate, count, random);
  if (marked) for (let k = 0; k < count / 2; k++) source[k] = 0;
  const spectrum = transform(source);
  const heard = noiseSpectrum(spectrum, rate);
  const shared = marked ? transform(coloured(count, rate, random)) : null;
  const at = Math.floor(locations * random());
  const outside = truth === 'common-cause' || truth === 'nearer-outside';
  // A source outside of all locations reaches them over paths of any kind.
  const pathKind = (): PathKind =>
    truth === 'common-cause' || truth === 'nearer-outside' ? (random() < 0.5 ? 'resonant' : 'rough') : truth;
  const toleranceShare = random() < 0.5 ? 0.1 : 0.03;
  const records = Array.from({ length: locations }, (_, i): LocationRecord => {
    // The nearest other location gets the stated loss, the others up to 8 dB more.
    const loss = i === (at + 1) % locations ? differenceDb : differenceDb + between(random, 0, 8);
    const path = (): Gain => {
      if (outside) {
        const own = truth === 'common-cause' ? between(random, 0, 2) : i === at ? 0 : loss;
        return normalised(randomPath(set, pathKind(), highestHz, random), own, heard);
      }
      if (i === at) return normalised(directPath(random), 0, heard);
      return normalised(randomPath(set, pathKind(), highestHz, random), loss, heard);
    };
    const sensorGain = 1 + between(random, -toleranceShare, toleranceShare);
    const background = 10 ** ((-noiseToBackgroundDb + between(random, -3, 3)) / 20);
    const roadShare = marked ? between(random, 0, 0.7) : 0;
    const axes = Array.from({ length: random() < 0.25 && locations < 4 ? 3 : 1 }, () => {
      const noise = filtered(spectrum, path(), rate, count);
      const road = shared === null ? null : filtered(shared, path(), rate, count);
      const own = coloured(count, rate, random);
      return noise.map(
        (v, k) => sensorGain * (v + background * (own[k]! + (road === null ? 0 : roadShare * road[k]!))),
      );
    });
    return {
      id: `l${i}`,
      name: `location ${i}`,
      board: `b${Math.floor(i / 2)}`,
      sampleRateHz: rate,
      axes,
      timeUncertaintyMs: 20,
      toleranceShare,
    };
  });
  // One sensor model per case: all one-axis, or all three-axis.
  const fewest = Math.min(...records.map(({ axes }) => axes.length));
  for (const record of records) record.axes.length = fewest;
  const question: CompareQuestion = {
    locations: records,
    ...(marked
      ? {
          marks: Array.from({ length: SECONDS }, (_, w) =>
            w < SECONDS / 2 ? ('quiet' as const) : ('noise' as const),
          ),
        }
      : {}),
  };
  return {
    question,
    sourceId: outside ? null : `l${at}`,
    truth,
    kind,
    differenceDb,
    noiseToBackgroundDb,
    marked,
    toleranceShare,
    repeatsHz,
  };
}

/** Background of a running machine: noise with a slope and a few weak tones, RMS 1. */
function coloured(count: number, rate: number, random: Random): Float64Array {
  const pole = between(random, 0, 0.8);
  let y = 0;
  const tones = Array.from({ length: 3 }, () => ({
    w: (2 * Math.PI * between(random, 20, 0.3 * rate)) / rate,
    size: 0.2 * random(),
  }));
  const out = Float64Array.from({ length: count }, (_, k) => {
    y = pole * y + gaussian(random);
    return y + tones.reduce((sum, { w, size }) => sum + size * Math.sin(w * k), 0);
  });
  const rms = Math.sqrt(out.reduce((sum, v) => sum + v * v, 0) / count);
  return out.map((v) => v / rms);
}

function transform(samples: Float64Array): Float64Array {
  const size = nextPowerOfTwo(samples.length);
  const input = new Float64Array(2 * size);
  for (let k = 0; k < samples.length; k++) input[2 * k] = samples[k]!;
  return complexFft(size).forward(input);
}

/** Power in steps of about 1 Hz, up to where sensors of this rate are flat. */
function noiseSpectrum(spectrum: Float64Array, rate: number): NoiseSpectrum {
  const perStep = Math.max(1, Math.round(spectrum.length / 2 / rate));
  const steps = Math.floor(spectrum.length / 2 / 2.56 / perStep);
  const hz = new Float64Array(steps);
  const power = new Float64Array(steps);
  for (let s = 0; s < steps; s++) {
    hz[s] = ((s + 0.5) * perStep * rate * 2) / spectrum.length;
    for (let k = s * perStep; k < (s + 1) * perStep; k++)
      power[s]! += spectrum[2 * k]! ** 2 + spectrum[2 * k + 1]! ** 2;
  }
  return { hz, power };
}

/** Points at which a path is worked out; straight lines between them, 0.4 Hz apart at 3200 samples/s. */
const PATH_POINTS = 4096;

function filtered(spectrum: Float64Array, gain: Gain, rate: number, count: number): Float64Array {
  const size = spectrum.length / 2;
  const points = Array.from({ length: PATH_POINTS + 2 }, (_, p) => gain((p * rate) / 2 / PATH_POINTS));
  const bins = new Float64Array(2 * size);
  for (let k = 0; 2 * k <= size; k++) {
    const at = (2 * k * PATH_POINTS) / size;
    const p = Math.floor(at);
    const share = at - p;
    const re = points[p]![0] * (1 - share) + points[p + 1]![0] * share;
    const im = points[p]![1] * (1 - share) + points[p + 1]![1] * share;
    const [a, b] = [spectrum[2 * k]!, spectrum[2 * k + 1]!];
    bins[2 * k] = a * re - b * im;
    bins[2 * k + 1] = a * im + b * re;
    if (k > 0 && 2 * k < size) {
      bins[2 * (size - k)] = bins[2 * k]!;
      bins[2 * (size - k) + 1] = -bins[2 * k + 1]!;
    }
  }
  const back = complexFft(size).inverse(bins);
  return Float64Array.from({ length: count }, (_, k) => back[2 * k]!);
}
