import { type ComplexEnvelope, complexEnvelope, magnitude, type RecordSpectrum } from '../dsp/hilbert.ts';
import { resampleToAngle, type SpeedChannel } from '../dsp/resample.ts';
import { welch } from '../dsp/spectrum.ts';
import { lineEvidence, medianOverMean, runningMedian } from './background.ts';

/** Spectrum of one band's envelope, held against its own background. */
export interface EnvelopeLines {
  bandHz: [number, number];
  stepHz: number;
  /** How many spectra were averaged. */
  averages: number;
  /** -ln of the chance that noise alone makes this line as high. */
  evidence: Float64Array;
  /** Line power over background, mean square of the envelope over the square of its mean: (modulation depth)² / 2. */
  relativePower: Float64Array;
  /** The background in the same measure. */
  relativeBackground: Float64Array;
}

export interface BankOptions {
  /** Highest envelope frequency needed. */
  topHz: number;
  /** Spacing of the lines that may crowd the spectrum (the shaft's speed): the background spans about one of it. */
  lineSpacingHz: number;
  speed?: SpeedChannel;
}

/** Noise of a Hann window spreads over 1.5 lines; a steady tone's power, summed over its lines, reads 1.5 times. */
export const HANN_NOISE_BANDWIDTH = 1.5;

/**
 * Envelope spectra of each band at two resolutions: the whole record (finest lines, for steady lines) and an
 * average of overlapping fifths (for lines that slip or speed changes have smeared).
 */
export function envelopeBank(
  record: RecordSpectrum,
  bands: [number, number][],
  options: BankOptions,
): EnvelopeLines[] {
  return bands.flatMap((bandHz) => {
    const complex = complexEnvelope(record, bandHz, options.topHz);
    const { values, rateHz } = slowEnvelope(complex, options);
    const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
    const reachHz = Math.min(options.topHz, (bandHz[1] - bandHz[0]) / 2, rateHz / 2);
    return [1, 5].map((parts) =>
      envelopeLines(
        values,
        rateHz,
        Math.floor(values.length / parts),
        bandHz,
        reachHz,
        options.lineSpacingHz,
        mean,
      ),
    );
  });
}

/**
 * Lines of the record itself, not of an envelope, at the finest resolution: where the shaft's own orders stand.
 * Power and depth are absolute here, in the unit of the samples.
 */
export function recordLines(
  samples: Float64Array,
  sampleRateHz: number,
  options: BankOptions,
): EnvelopeLines {
  const top = Math.min(options.topHz, sampleRateHz / 2);
  return envelopeLines(samples, sampleRateHz, samples.length, [0, top], top, options.lineSpacingHz, 1);
}

/** Envelope at no higher a rate than needed, at equal steps of angle where the speed over time is known. */
function slowEnvelope(
  complex: ComplexEnvelope,
  options: BankOptions,
): { values: Float64Array; rateHz: number } {
  const full = magnitude(complex);
  const factor = Math.max(1, Math.floor(complex.sampleRateHz / (5 * options.topHz)));
  const length = Math.floor(full.length / factor);
  const slow = new Float64Array(length);
  for (let k = 0; k < length; k++) {
    let sum = 0;
    for (let m = k * factor; m < (k + 1) * factor; m++) sum += full[m]!;
    slow[k] = sum / factor;
  }
  const rateHz = complex.sampleRateHz / factor;
  if (options.speed === undefined) return { values: slow, rateHz };
  const perTurn = Math.ceil(rateHz / options.lineSpacingHz);
  const turned = resampleToAngle(slow, rateHz, options.speed, perTurn);
  // Orders times the stated mean speed: everything after this reads the same with and without a speed channel.
  return { values: turned.values, rateHz: perTurn * options.lineSpacingHz };
}

function envelopeLines(
  values: Float64Array,
  rateHz: number,
  segmentSamples: number,
  bandHz: [number, number],
  reachHz: number,
  spacingHz: number,
  reference: number,
): EnvelopeLines {
  const { density, stepHz, segments } = welch(values, rateHz, { segmentSamples, overlap: 0.5 });
  const count = Math.max(2, Math.min(density.length, Math.floor(reachHz / stepHz) + 1));
  const relativePower = new Float64Array(count);
  // Density x step x 1.5 is the mean square a tone reads at its line.
  const scale = reference === 0 ? 0 : (stepHz * HANN_NOISE_BANDWIDTH) / reference ** 2;
  for (let k = 0; k < count; k++) relativePower[k] = density[k]! * scale;
  const halfWidth = Math.max(12, Math.round((0.6 * spacingHz) / stepHz));
  const median = runningMedian(relativePower.subarray(1), halfWidth);
  // Neighbouring halves of a Hann-windowed average share a little: 5 % fewer independent ones (Welch 1967).
  const averages = Math.max(1, Math.round(segments / 1.055));
  const toMean = 1 / medianOverMean(averages);
  const relativeBackground = new Float64Array(count);
  const evidence = new Float64Array(count);
  for (let k = 1; k < count; k++) {
    relativeBackground[k] = Math.max(median[k - 1]! * toMean, 1e-18);
    const floor = Math.max(relativeBackground[k]!, leakageFrom(relativePower, k));
    evidence[k] = lineEvidence(relativePower[k]! / floor, averages);
  }
  return {
    bandHz,
    stepHz,
    averages,
    evidence,
    relativePower,
    relativeBackground,
  };
}

/**
 * Power that a Hann window leaks from a line into the ones 2 to 8 places away, worst case between two lines
 * (its transform falls as 1 / (d (d² - 1))). Without this the skirts of a strong line pass for lines themselves.
 */
const LEAKAGE = [2, 3, 4, 5, 6, 7, 8].map((d) => {
  const half = d - 0.5;
  return 2 * (0.32 / (half * (half * half - 1))) ** 2;
});

function leakageFrom(power: Float64Array, k: number): number {
  let greatest = 0;
  for (let i = 0; i < LEAKAGE.length; i++) {
    const d = i + 2;
    const left = k >= d ? power[k - d]! : 0;
    const right = k + d < power.length ? power[k + d]! : 0;
    greatest = Math.max(greatest, LEAKAGE[i]! * Math.max(left, right));
  }
  return greatest;
}
