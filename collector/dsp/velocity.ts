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
  const taps = padded(design.compensatorTaps);
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

const TAPS_PER_PASS = 3;

/** With zeros to three or six taps a side, for loops without an inner one. */
function padded(taps: Float64Array): Float64Array {
  const sides = Math.ceil((taps.length - 1) / TAPS_PER_PASS) * TAPS_PER_PASS;
  const result = new Float64Array(1 + sides);
  result.set(taps);
  return result;
}

/** Symmetric FIR: `output[i]` is centred on `input[i + half]`. Three taps a side in one pass over the samples. */
function compensate(taps: Float64Array, input: Float64Array, output: Float64Array, count: number): void {
  const half = taps.length - 1;
  const [c0, c1, c2, c3] = [taps[0]!, taps[1]!, taps[2]!, taps[3]!];
  for (let i = 0; i < count; i++) {
    const at = i + half;
    output[i] =
      c0 * input[at]! +
      c1 * (input[at - 1]! + input[at + 1]!) +
      c2 * (input[at - 2]! + input[at + 2]!) +
      c3 * (input[at - 3]! + input[at + 3]!);
  }
  if (half === TAPS_PER_PASS) return;
  const [c4, c5, c6] = [taps[4]!, taps[5]!, taps[6]!];
  for (let i = 0; i < count; i++) {
    const at = i + half;
    output[i]! +=
      c4 * (input[at - 4]! + input[at + 4]!) +
      c5 * (input[at - 5]! + input[at + 5]!) +
      c6 * (input[at - 6]! + input[at + 6]!);
  }
}
