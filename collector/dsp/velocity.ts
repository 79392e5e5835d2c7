import { type Cascade, createCascade } from './filter.ts';
import { butterworthHighPass, butterworthLowPass, type FilterDesign, magnitudeAt } from './filter-design.ts';
import { compensatorMagnitudeAt, designRunningSumCompensator } from './integrator.ts';

const ORDER = 8;
/** Band limits to filter corners: -1.2 dB at the lower limit, at most -1.7 dB at the upper one. */
const LOWER_CORNER = 0.93;
const UPPER_CORNER = 1.05;
/** Slowest pole pair: e^-11.4 (1e-5) is left of any start after this many cycles of the lower corner. */
const SETTLING_CYCLES = 9.3;

/**
 * From acceleration to velocity within a band: high-pass, integration, low-pass.
 *
 * The high-pass of order 8 has eight zeros at 0 Hz and the integrator one pole there: they are cancelled on
 * paper, in the last high-pass section, (1 - z^-1)² / (1 - z^-1). No running sum exists that could drift, and a
 * constant (gravity) still meets seven zeros. The compensator makes the running sum exact (integrator.ts).
 */
export interface VelocityDesign {
  sampleRateHz: number;
  bandHz: [number, number];
  /** High-pass with the integration in its last section: m/s² to m/s. */
  integratingHighPass: FilterDesign;
  compensatorTaps: Float64Array;
  lowPass: FilterDesign;
  settlingSamples: number;
}

export function designVelocity(sampleRateHz: number, bandHz: [number, number]): VelocityDesign {
  const [lowHz, topHz] = bandHz;
  const highPass = butterworthHighPass(ORDER, LOWER_CORNER * lowHz, sampleRateHz);
  const last = highPass.sections.length - 1;
  const sections = highPass.sections.map((s, i) => (i === last ? { ...s, b1: -1, b2: 0 } : s));
  return {
    sampleRateHz,
    bandHz,
    integratingHighPass: { gain: highPass.gain / sampleRateHz, sections },
    compensatorTaps: designRunningSumCompensator(topHz, sampleRateHz).taps,
    lowPass: butterworthLowPass(ORDER, UPPER_CORNER * topHz, sampleRateHz),
    settlingSamples: Math.ceil((SETTLING_CYCLES / (LOWER_CORNER * lowHz)) * sampleRateHz),
  };
}

/** Velocity out over velocity in for a sine: 1 in the middle of the band. */
export function velocitySensitivityAt(design: VelocityDesign, frequencyHz: number): number {
  const rate = design.sampleRateHz;
  return (
    2 *
    Math.PI *
    frequencyHz *
    magnitudeAt(design.integratingHighPass, frequencyHz, rate) *
    Math.abs(compensatorMagnitudeAt(design.compensatorTaps, frequencyHz, rate)) *
    magnitudeAt(design.lowPass, frequencyHz, rate)
  );
}

/** Runs a velocity design over samples that arrive in pieces. */
export interface VelocityFilter {
  /** `acceleration[from]` up to `acceleration[to]`, less `offset`, in m/s²; at most `VELOCITY_CHUNK` samples. */
  run(acceleration: Float64Array, from: number, to: number, offset: number): Float64Array;
  flushDenormals(): void;
  reset(): void;
}

export const VELOCITY_CHUNK = 1024;

// One workspace for all filters: `run` never yields, and what it returns is valid until the next call.
const WORK_MARGIN = 32;
const filtered = new Float64Array(WORK_MARGIN + VELOCITY_CHUNK);
const velocity = new Float64Array(VELOCITY_CHUNK);

export function createVelocityFilter(design: VelocityDesign): VelocityFilter {
  const highPass: Cascade = createCascade(design.integratingHighPass);
  const lowPass: Cascade = createCascade(design.lowPass);
  const taps = design.compensatorTaps;
  const half = taps.length - 1;
  const history = new Float64Array(2 * half);
  return {
    run(acceleration, from, to, offset) {
      const count = to - from;
      filtered.set(history);
      const start = history.length;
      for (let i = 0; i < count; i++) filtered[start + i] = acceleration[from + i]! - offset;
      highPass.run(filtered, start, start + count);
      compensate(taps, filtered, velocity, count);
      history.set(filtered.subarray(count, count + start));
      lowPass.run(velocity, 0, count);
      return velocity.subarray(0, count);
    },
    flushDenormals() {
      highPass.flushDenormals();
      lowPass.flushDenormals();
    },
    reset() {
      highPass.reset();
      lowPass.reset();
      history.fill(0);
    },
  };
}

/** Symmetric FIR: `output[i]` is centred on `input[i + half]`. */
function compensate(taps: Float64Array, input: Float64Array, output: Float64Array, count: number): void {
  const half = taps.length - 1;
  const centre = taps[0]!;
  for (let i = 0; i < count; i++) output[i] = centre * input[i + half]!;
  for (let k = 1; k <= half; k++) {
    const tap = taps[k]!;
    for (let i = 0; i < count; i++) {
      output[i]! += tap * (input[i + half - k]! + input[i + half + k]!);
    }
  }
}
