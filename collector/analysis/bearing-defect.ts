import type { BearingMultipliers } from '../drivetrain/bearing.ts';
import type { SpeedChannel } from '../dsp/resample.ts';
import type { BearingPart } from './bearing-families.ts';
import { searchBearing } from './bearing-search.ts';
import { decide } from './bearing-verdict.ts';
import { coverage } from './coverage.ts';
import type { Finding } from './finding.ts';

export interface BearingQuestion {
  /** Acceleration, m/s². Only ratios matter to the verdict, so any linear unit does. */
  samples: Float64Array;
  sampleRateHz: number;
  /** Speed between the two rings, turns per second; the mean where `speed` gives it over time. */
  shaftHz: number;
  multipliers: BearingMultipliers;
  /** The same speed over time, where it varies. */
  speed?: SpeedChannel;
  /** Envelope band stated by the user; else a fixed set of bands is searched. */
  bandHz?: [number, number];
  /** Up to where the sensor is flat, when lower than the sample rate allows. */
  sensorBandwidthHz?: number;
  /** Lines known to belong to other parts. */
  otherLinesHz?: number[];
}

export type BearingVerdict = 'none' | BearingPart | 'not-clear' | 'not-covered';

export interface BearingResult {
  findings: Finding[];
  verdict: BearingVerdict;
  /** Why, in one sentence. */
  reason: string;
  /** Turns per second used, and whether the shaft's own lines confirmed it. */
  shaftHz: number;
  shaftMeasured: boolean;
}

/** Longer records are judged by their middle: a minute at a time is plenty, and memory stays bounded. */
const MOST_SAMPLES = 2 ** 20;

/**
 * Does this record show a defect of this bearing, and of which part? See the files beside for each step:
 * envelope spectra of many bands against their own background, combs of each part's lines within slip, with the
 * shaft's orders kept out; each candidate again with steady tones taken down; then rivals.
 * @throws RangeError when the question itself cannot be (no speed, no samples).
 */
export function findBearingDefect(asked: BearingQuestion): BearingResult {
  const question = middleOf(asked);
  const covered = coverage(question);
  if (covered.blocking !== null) {
    const { shaftHz } = question;
    return { findings: [], verdict: 'not-covered', reason: covered.blocking, shaftHz, shaftMeasured: false };
  }
  const search = searchBearing(question);
  const { findings, verdict, reason } = decide(search);
  const common = { findings, shaftHz: search.speed.hz, shaftMeasured: search.speed.measured };
  return verdict === 'none' && covered.weak !== null
    ? { ...common, verdict: 'not-covered', reason: covered.weak }
    : { ...common, verdict, reason };
}

function middleOf(question: BearingQuestion): BearingQuestion {
  const { samples, sampleRateHz, speed } = question;
  if (samples.length <= MOST_SAMPLES) return question;
  const start = (samples.length - MOST_SAMPLES) >> 1;
  const middle = { ...question, samples: samples.subarray(start, start + MOST_SAMPLES) };
  if (speed === undefined) return middle;
  return { ...middle, speed: { ...speed, timeS: speed.timeS.map((t) => t - start / sampleRateHz) } };
}
