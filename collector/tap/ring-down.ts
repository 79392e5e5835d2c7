import { type Density, welch } from '../dsp/spectrum.ts';
import { type DampedFit, type DampedSine, fitDampedSines } from './damped-sines.ts';
import { strongestMode } from './first-guess.ts';
import { findRaps, type Rap } from './impulse.ts';

/** One mode of a part: how it rings after a rap. */
export interface RingMode {
  /** Frequency of the ringing (damped). */
  frequencyHz: number;
  /** Expanded uncertainty (twice the standard deviation). */
  frequencyUncertaintyHz: number;
  /** Share of critical damping. */
  dampingRatio: number;
  dampingUncertainty: number;
  /** Logarithmic decrement: ln of one swing over the next. */
  logDecrement: number;
  /** Amplitude at the start of the fit, in the unit of the samples. */
  amplitude: number;
}

export interface RingDown {
  rap: Rap;
  /** Stretch that was fitted, samples. */
  from: number;
  to: number;
  /** Strongest first. */
  modes: RingMode[];
  /** Share of the stretch's power that the modes explain. */
  explainedShare: number;
}

export interface RingDownOptions {
  /** Modes looked for in this range. Default 20 Hz to 0.4 x sample rate. */
  bandHz?: [number, number];
  /** Most modes fitted. Default 5. */
  mostModes?: number;
  /** Largest error of the stated sample rate, as a share: a node's own clock may be off by per cents, a fitted rate by far less. */
  sampleRateToleranceShare?: number;
}

/** The striker touches for some milliseconds; while it does the part is not free. */
const CONTACT_S = 0.003;
/** No ring-down worth fitting is shorter. */
const LEAST_S = 0.03;
/** Longer adds noise only. */
const MOST_S = 2;
/** A line this far above its surroundings (power) is a mode: noise reaches it once in e^14, a million lines. */
const TIMES_BACKGROUND = 20;
/** Amplitude over its own standard deviation below which a fitted mode is taken for noise. */
const CERTAIN_SD = 5;
/** Rebounds come within this; the beginning is left out in such steps. */
const LATEST_REBOUND_S = 0.08;
const REBOUND_STEP_S = 0.01;
/** The fit is judged over its first part: it may leave this many times the noise of the second half, or this share of the ringing. */
const EARLY_S = 0.05;
const MISFIT_TIMES_NOISE = 2;
const MISFIT_SHARE = 0.05;
/** Quiet before the rap worth a spectrum. */
const QUIET_S = 0.1;
const COVERAGE = 2;

/**
 * Ring-down of each rap in a capture: the damped sines that make it up, by least squares, with the uncertainty that
 * the noise leaves (see `damped-sines.ts`). Modes are added strongest first, all fitted again together, until nothing
 * stands out of the rest.
 *
 * @throws RangeError where the record holds no rap, or none that rings long enough
 */
export function ringDowns(
  samples: Float64Array,
  sampleRateHz: number,
  options: RingDownOptions = {},
): RingDown[] {
  const raps = findRaps(samples, sampleRateHz);
  if (raps.length === 0) {
    throw new RangeError(
      'the record holds no rap: nothing rises 8 times above its noise; rap harder, or closer to the sensor',
    );
  }
  const contact = Math.ceil(CONTACT_S * sampleRateHz);
  const found = raps.flatMap((rap, r): RingDown[] => {
    const from = rap.peakAt + contact;
    const next = raps[r + 1]?.onset ?? samples.length;
    const to = Math.min(next - contact, from + Math.round(MOST_S * sampleRateHz));
    if (to - from < LEAST_S * sampleRateHz) return [];
    const before = samples.subarray(raps[r - 1]?.peakAt ?? 0, Math.max(0, rap.onset - 1));
    const quiet = r === 0 && before.length >= QUIET_S * sampleRateHz ? welch(before, sampleRateHz) : null;
    return [{ rap, to, ...fitAfterRebounds(samples, from, to, sampleRateHz, options, quiet) }];
  });
  if (found.length === 0) {
    throw new RangeError(
      `no rap is followed by ${1000 * LEAST_S} ms of ringing; leave a second between raps, and one after the last`,
    );
  }
  return found;
}

/**
 * A striker that bounces hits again while the part rings, and then no sum of damped sines fits: the beginning of the
 * stretch is left out step by step until one does. Where none does, the best of all counts.
 */
function fitAfterRebounds(
  samples: Float64Array,
  from: number,
  to: number,
  sampleRateHz: number,
  options: RingDownOptions,
  quiet: Density | null,
): Pick<RingDown, 'from' | 'modes' | 'explainedShare'> {
  let best: (Fit & { from: number }) | null = null;
  for (let later = 0; later <= LATEST_REBOUND_S; later += REBOUND_STEP_S) {
    const start = from + Math.round(later * sampleRateHz);
    if (to - start < LEAST_S * sampleRateHz) break;
    const fit = fitStretch(samples.subarray(start, to), sampleRateHz, options, quiet);
    if (best === null || (fit.modes.length > 0 && fit.misfit < best.misfit)) best = { ...fit, from: start };
    if (fit.misfit <= 1) break;
  }
  const { misfit: _, ...found } = best!;
  return found;
}

interface Fit extends Pick<RingDown, 'modes' | 'explainedShare'> {
  /** What is left at the beginning over what may be left there; above 1 something else than free ringing is in it. */
  misfit: number;
}

/** Modes of one stretch of free ringing. */
function fitStretch(
  stretch: Float64Array,
  sampleRateHz: number,
  options: RingDownOptions,
  quiet: Density | null,
): Fit {
  const { bandHz = [20, 0.4 * sampleRateHz], mostModes = 5, sampleRateToleranceShare = 0 } = options;
  // The second half has rung down, so its mean is gravity and offset alone.
  const late = stretch.subarray(stretch.length >> 1);
  const mean = late.reduce((sum, value) => sum + value, 0) / late.length;
  const free = stretch.map((value) => value - mean);
  let fit = fitDampedSines(free, sampleRateHz, []);
  while (fit.modes.length < mostModes) {
    const guess = strongestMode(fit.residual, sampleRateHz, bandHz[0], bandHz[1], TIMES_BACKGROUND, quiet);
    if (guess === null) break;
    const more = fitDampedSines(free, sampleRateHz, [...fit.modes, guess]);
    if (!isSound(more.modes, bandHz, stretch.length / sampleRateHz)) break;
    if (!isCertain(more, more.modes.length - 1, sampleRateHz)) break;
    fit = more;
  }
  const noise = welch(fit.residual, sampleRateHz, {
    segmentSamples: Math.max(16, Math.floor(stretch.length / 4)),
  });
  const modes = fit.modes.map((mode, m): RingMode => {
    const variance = noiseVarianceAt(noise, mode.frequencyHz, mode.decayPerS, sampleRateHz);
    const sdOf = (parameter: number) =>
      Math.sqrt(fit.unitCovariance[4 * m + parameter]![4 * m + parameter]! * variance);
    const w = 2 * Math.PI * mode.frequencyHz;
    const dampingRatio = mode.decayPerS / Math.hypot(w, mode.decayPerS);
    return {
      frequencyHz: mode.frequencyHz,
      frequencyUncertaintyHz: Math.hypot(COVERAGE * sdOf(0), sampleRateToleranceShare * mode.frequencyHz),
      dampingRatio,
      // d(ratio)/d(decay) = w² / (w² + decay²)^1.5; the part by frequency is far smaller.
      dampingUncertainty: (COVERAGE * sdOf(1) * w * w) / Math.hypot(w, mode.decayPerS) ** 3,
      logDecrement: mode.decayPerS / mode.frequencyHz,
      amplitude: Math.hypot(mode.inPhase, mode.quadrature),
    };
  });
  const power = (values: Float64Array) => values.reduce((sum, value) => sum + value * value, 0);
  const total = power(free);
  return {
    modes: modes.sort((a, b) => b.amplitude - a.amplitude),
    explainedShare: total === 0 ? 0 : 1 - power(fit.residual) / total,
    misfit: misfitOf(free, fit.residual, sampleRateHz),
  };
}

function misfitOf(free: Float64Array, residual: Float64Array, sampleRateHz: number): number {
  const early = Math.min(free.length >> 1, Math.round(EARLY_S * sampleRateHz));
  const rms = (values: Float64Array) =>
    Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
  const allowed = Math.max(
    MISFIT_TIMES_NOISE * rms(residual.subarray(residual.length >> 1)),
    MISFIT_SHARE * rms(free.subarray(0, early)),
  );
  return allowed === 0 ? 0 : rms(residual.subarray(0, early)) / allowed;
}

/** Two modes closer than a line, or one that outlives the stretch tenfold, are one mode fitted twice, or a steady tone. */
function isSound(modes: readonly DampedSine[], bandHz: [number, number], seconds: number): boolean {
  return modes.every(
    (mode, m) =>
      mode.frequencyHz >= bandHz[0] &&
      mode.frequencyHz <= bandHz[1] &&
      mode.decayPerS > 0.1 / seconds &&
      modes.every((other, o) => o >= m || Math.abs(other.frequencyHz - mode.frequencyHz) > 0.5 / seconds),
  );
}

/** Does the amplitude of a mode stand `CERTAIN_SD` standard deviations above nothing? */
function isCertain(fit: DampedFit, m: number, sampleRateHz: number): boolean {
  const { inPhase, quadrature } = fit.modes[m]!;
  const sd = Math.hypot(parameterSd(fit, m, 2, sampleRateHz), parameterSd(fit, m, 3, sampleRateHz));
  return Math.hypot(inPhase, quadrature) > CERTAIN_SD * sd;
}

/** Standard deviation of one parameter (see `DampedFit`) by the noise that is left around the mode. */
function parameterSd(
  { modes, residual, unitCovariance }: DampedFit,
  m: number,
  parameter: number,
  sampleRateHz: number,
): number {
  const noise = welch(residual, sampleRateHz, {
    segmentSamples: Math.max(16, Math.floor(residual.length / 4)),
  });
  const { frequencyHz, decayPerS } = modes[m]!;
  return Math.sqrt(
    unitCovariance[4 * m + parameter]![4 * m + parameter]! *
      noiseVarianceAt(noise, frequencyHz, decayPerS, sampleRateHz),
  );
}

/** Variance per sample of white noise as strong as the noise really is around a mode: noise is rarely white. */
function noiseVarianceAt(
  { density, stepHz }: Density,
  hz: number,
  decayPerS: number,
  sampleRateHz: number,
): number {
  const reach = Math.max(3, Math.ceil(decayPerS / (2 * Math.PI) / stepHz));
  const centre = Math.round(hz / stepHz);
  let [sum, lines] = [0, 0];
  for (let k = Math.max(1, centre - reach); k <= centre + reach && k < density.length - 1; k++) {
    sum += density[k]!;
    lines++;
  }
  return ((lines === 0 ? 0 : sum / lines) * sampleRateHz) / 2;
}
