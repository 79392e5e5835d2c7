/** A speed over time. Times rise; between two of them the speed is taken as a straight line, outside as constant. */
export interface SpeedChannel {
  name: string;
  timeS: number[];
  /** Turns per second. */
  hz: number[];
}

export interface AngularSamples {
  values: Float64Array;
  samplesPerTurn: number;
  /** Turns covered. */
  turns: number;
}

/** Speed at a time. */
export function speedAt(channel: SpeedChannel, timeS: number): number {
  const { timeS: times, hz } = channel;
  if (times.length === 1 || timeS <= times[0]!) return hz[0]!;
  if (timeS >= times[times.length - 1]!) return hz[hz.length - 1]!;
  let low = 0;
  let high = times.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (times[middle]! <= timeS) low = middle;
    else high = middle;
  }
  const share = (timeS - times[low]!) / (times[high]! - times[low]!);
  return hz[low]! + share * (hz[high]! - hz[low]!);
}

/** Throws when a speed channel cannot be used, naming what is wrong. */
export function checkSpeedChannel(channel: SpeedChannel): void {
  const { name, timeS, hz } = channel;
  if (timeS.length === 0 || timeS.length !== hz.length) {
    throw new RangeError(
      `speed channel ${name}: ${timeS.length} times and ${hz.length} speeds; give as many of each`,
    );
  }
  for (let k = 0; k < hz.length; k++) {
    if (!Number.isFinite(hz[k]!) || hz[k]! < 0 || !Number.isFinite(timeS[k]!)) {
      throw new RangeError(`speed channel ${name}: value ${k} (${timeS[k]} s, ${hz[k]} Hz) is not a speed`);
    }
    if (k > 0 && timeS[k]! <= timeS[k - 1]!) {
      throw new RangeError(
        `speed channel ${name}: time ${timeS[k]} s at ${k} does not come after ${timeS[k - 1]} s`,
      );
    }
  }
}

/**
 * Samples at equal steps of shaft angle instead of time, so that a line that follows the shaft stays one line
 * while the speed varies. Angle is the integral of the speed (trapezoids at every sample). Values between
 * samples come from a windowed sinc (Hann, 16 zero crossings a side); where the new rate is lower than the old
 * one its cut-off moves down with it, so nothing folds. The first sample is at time 0.
 */
export function resampleToAngle(
  samples: Float64Array,
  sampleRateHz: number,
  speed: SpeedChannel,
  samplesPerTurn: number,
): AngularSamples {
  checkSpeedChannel(speed);
  if (!(samplesPerTurn >= 2)) throw new RangeError(`need at least 2 samples per turn, got ${samplesPerTurn}`);
  const n = samples.length;
  const angle = new Float64Array(n);
  let before = speedAt(speed, 0);
  for (let k = 1; k < n; k++) {
    const now = speedAt(speed, k / sampleRateHz);
    angle[k] = angle[k - 1]! + (before + now) / 2 / sampleRateHz;
    before = now;
  }
  const turns = n > 0 ? angle[n - 1]! : 0;
  const values = new Float64Array(Math.floor(turns * samplesPerTurn) + (n > 0 ? 1 : 0));
  let k = 0;
  for (let j = 0; j < values.length; j++) {
    const target = j / samplesPerTurn;
    while (k < n - 2 && angle[k + 1]! <= target) k++;
    const perSample = n > 1 ? angle[k + 1]! - angle[k]! : 0;
    const position = perSample > 0 ? k + (target - angle[k]!) / perSample : k;
    values[j] = sincAt(samples, position, Math.min(1, perSample * samplesPerTurn));
  }
  return { values, samplesPerTurn, turns };
}

const CROSSINGS = 16;
const TABLE_STEPS = 256;
/** sinc(x) x Hann over |x| <= CROSSINGS, at TABLE_STEPS points per crossing. */
const KERNEL = Float64Array.from({ length: CROSSINGS * TABLE_STEPS + 2 }, (_, k) => {
  const x = k / TABLE_STEPS;
  const sinc = x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
  return x >= CROSSINGS ? 0 : sinc * (0.5 + 0.5 * Math.cos((Math.PI * x) / CROSSINGS));
});

/** Value at a place between samples, low-passed at `cutoff` (1 = half the old sample rate). */
export function sincAt(samples: ArrayLike<number>, position: number, cutoff: number): number {
  const low = Math.max(cutoff, 1e-3);
  const reach = CROSSINGS / low;
  const first = Math.max(0, Math.ceil(position - reach));
  const last = Math.min(samples.length - 1, Math.floor(position + reach));
  let sum = 0;
  let weights = 0;
  for (let m = first; m <= last; m++) {
    const x = Math.abs(position - m) * low * TABLE_STEPS;
    const at = Math.floor(x);
    const weight = KERNEL[at]! + (x - at) * (KERNEL[at + 1]! - KERNEL[at]!);
    sum += weight * samples[m]!;
    weights += weight;
  }
  // Dividing by the weights keeps a constant constant, at the ends of the record too.
  return weights === 0 ? 0 : sum / weights;
}
