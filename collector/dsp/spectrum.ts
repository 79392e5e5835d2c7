import { type RealFft, realFft } from './fft.ts';
import { type QuickFft, quickFft } from './quick-fft.ts';
import { createScratch } from './scratch.ts';
import { makeWindow, type Window, type WindowName } from './window.ts';

/** 'single': several times as fast where the length allows, with noise 140 dB below the strongest line. */
export type Precision = 'double' | 'single';

export interface AmplitudeSpectrum {
  stepHz: number;
  /** One value per line from 0 Hz up, RMS, in the unit of the samples: a sine of amplitude A reads A / sqrt 2. */
  amplitudeRms: Float64Array;
}

export interface Density {
  stepHz: number;
  /** One-sided power spectral density, (unit of the samples)² per Hz: sum(density) x stepHz is the mean square. */
  density: Float64Array;
  /** How many segments were averaged. */
  segments: number;
}

/**
 * Amplitude spectrum of one block, the mean removed first (gravity would leak into the lowest lines).
 * amplitudeRms[k] = |X[k]| sqrt 2 / (n coherentGain), without the sqrt 2 at 0 Hz and at half the sample rate.
 * Source: Heinzel, Rüdiger, Schilling, "Spectrum and spectral density estimation by the DFT", 2002, eq. 24.
 */
export function amplitudeSpectrum(
  samples: Float64Array,
  sampleRateHz: number,
  options: { window?: WindowName; precision?: Precision } = {},
): AmplitudeSpectrum {
  checkInput(samples, sampleRateHz);
  const n = samples.length;
  const window = makeWindow(options.window ?? 'hann', n);
  const amplitudeRms = new Float64Array(Math.floor(n / 2) + 1);
  addWindowedPower(amplitudeRms, samples, 0, segmentOf(window, n, 'constant', options.precision));
  const edge = 1 / (n * window.coherentGain);
  const full = Math.SQRT2 * edge;
  for (let k = 0; k < amplitudeRms.length; k++) {
    amplitudeRms[k] = Math.sqrt(amplitudeRms[k]!) * (isEdge(k, n) ? edge : full);
  }
  return { stepHz: sampleRateHz / n, amplitudeRms };
}

export interface WelchOptions {
  /** Default: at most 1/8 of the samples (so that noise settles), at least 256. */
  segmentSamples?: number;
  /** Share of a segment that the next one repeats, 0 <= overlap < 1. Default 0.5. */
  overlap?: number;
  window?: WindowName;
  /** What is taken from each segment before the window. Default 'constant' (its mean). */
  detrend?: 'constant' | 'none';
  precision?: Precision;
}

/**
 * Power spectral density by Welch's averaged periodograms (P. D. Welch, 1967), scaled like
 * scipy.signal.welch(..., scaling='density'): |X|² 2 / (rate sum(w²)), without the 2 at both edges.
 */
export function welch(samples: Float64Array, sampleRateHz: number, options: WelchOptions = {}): Density {
  checkInput(samples, sampleRateHz);
  const length = Math.min(
    samples.length,
    options.segmentSamples ?? Math.max(256, Math.floor(samples.length / 8)),
  );
  const overlap = options.overlap ?? 0.5;
  if (!(overlap >= 0 && overlap < 1)) throw new RangeError(`overlap must be in 0 to 1, got ${overlap}`);
  if (!Number.isInteger(length) || length < 2) {
    throw new RangeError(`a segment needs a whole number of at least 2 samples, got ${length}`);
  }
  const step = Math.max(1, length - Math.floor(length * overlap));
  const window = makeWindow(options.window ?? 'hann', length);
  const segment = segmentOf(window, length, options.detrend ?? 'constant', options.precision);
  const density = new Float64Array(Math.floor(length / 2) + 1);
  let segments = 0;
  for (let start = 0; start + length <= samples.length; start += step) {
    addWindowedPower(density, samples, start, segment);
    segments++;
  }
  const scale = 1 / (sampleRateHz * window.sumOfSquares * segments);
  for (let k = 0; k < density.length; k++) density[k]! *= scale * (isEdge(k, length) ? 1 : 2);
  return { stepHz: sampleRateHz / length, density, segments };
}

/**
 * At most `points` values, each the greatest of its stretch, so that no peak is lost on a screen.
 * Point j covers the lines from j x step on, with step = ceil(length / points) lines.
 */
export function thinByMaximum(values: Float64Array, points: number): { values: Float64Array; step: number } {
  if (!Number.isInteger(points) || points < 1)
    throw new RangeError(`points must be 1 or more, got ${points}`);
  const step = Math.max(1, Math.ceil(values.length / points));
  const thinned = new Float64Array(Math.ceil(values.length / step)).fill(Number.NEGATIVE_INFINITY);
  for (let k = 0; k < values.length; k++) {
    const at = Math.floor(k / step);
    if (values[k]! > thinned[at]!) thinned[at] = values[k]!;
  }
  return { values: thinned, step };
}

/** Mean square between two frequencies, taking each line whole whose centre lies inside. */
export function bandMeanSquare(spectrum: Density, fromHz: number, toHz: number): number {
  let sum = 0;
  for (let k = 0; k < spectrum.density.length; k++) {
    const hz = k * spectrum.stepHz;
    if (hz >= fromHz && hz <= toHz) sum += spectrum.density[k]!;
  }
  return sum * spectrum.stepHz;
}

interface Segment {
  window: Window;
  /** One of them. */
  plan: RealFft | null;
  quick: QuickFft | null;
  detrend: 'constant' | 'none';
}

function segmentOf(
  window: Window,
  length: number,
  detrend: Segment['detrend'],
  precision: Precision = 'double',
): Segment {
  const quick = precision === 'single' ? quickFft(length, 'real') : null;
  return { window, quick, plan: quick === null ? realFft(length) : null, detrend };
}

const blockRoom = createScratch();
const transformRoom = createScratch();

/** Adds |X|² of one windowed segment to `power`. */
function addWindowedPower(power: Float64Array, samples: Float64Array, start: number, segment: Segment): void {
  const { window, plan, quick, detrend } = segment;
  const weights = window.values;
  const n = weights.length;
  let mean = 0;
  if (detrend === 'constant') {
    for (let k = 0; k < n; k++) mean += samples[start + k]!;
    mean /= n;
  }
  if (quick !== null) {
    const input = quick.input();
    for (let k = 0; k < n; k++) input[k] = (samples[start + k]! - mean) * weights[k]!;
    addQuickPower(power, quick.forward());
    return;
  }
  if (plan === null) return;
  const block = blockRoom(n);
  for (let k = 0; k < n; k++) block[k] = (samples[start + k]! - mean) * weights[k]!;
  const transform = plan.forward(block, transformRoom(2 * plan.bins));
  for (let k = 0; k < power.length; k++) {
    const re = transform[2 * k]!;
    const im = transform[2 * k + 1]!;
    // Not `** 2`: a power costs many times a product.
    power[k]! += re * re + im * im;
  }
}

function addQuickPower(power: Float64Array, lines: Float32Array): void {
  const half = power.length - 1;
  power[0]! += lines[0]! * lines[0]!;
  power[half]! += lines[1]! * lines[1]!;
  for (let k = 1; k < half; k++) {
    const re = lines[2 * k]!;
    const im = lines[2 * k + 1]!;
    power[k]! += re * re + im * im;
  }
}

/** 0 Hz, and half the sample rate of an even length, have no mirror image: their power is not doubled. */
function isEdge(k: number, length: number): boolean {
  return k === 0 || 2 * k === length;
}

function checkInput(samples: Float64Array, sampleRateHz: number): void {
  if (!(sampleRateHz > 0 && Number.isFinite(sampleRateHz))) {
    throw new RangeError(`sample rate must be a positive number of hertz, got ${sampleRateHz}`);
  }
  if (samples.length < 2) throw new RangeError(`a spectrum needs at least 2 samples, got ${samples.length}`);
}
