import { MAX_ORDER, stepUp } from './predictor.ts';

export interface Predictor {
  offset: number;
  order: number;
  reflection: Int8Array;
  taps: Int32Array;
}

/** Cost of one reflection coefficient on the wire, in bits. */
const COEFFICIENT_BITS = 6;

/** Chooses how to predict a channel. Not normative: a decoder follows whatever was chosen. */
export function analyse(samples: Int16Array): Predictor {
  const count = samples.length;
  let sum = 0;
  for (const value of samples) sum += value;
  const offset = Math.trunc(sum / count);
  const predictor = {
    offset,
    order: 0,
    reflection: new Int8Array(MAX_ORDER),
    taps: new Int32Array(MAX_ORDER),
  };
  const lags = Math.min(MAX_ORDER, count >> 4);
  const centred = windowed(samples, offset);
  const correlation = new Float64Array(lags + 1);
  for (let lag = 0; lag <= lags; lag++) {
    let product = 0;
    for (let i = lag; i < count; i++) product += centred[i]! * centred[i - lag]!;
    correlation[lag] = product;
  }
  if (lags === 0 || correlation[0]! <= 0) return predictor;
  predictor.order = reflect(correlation, count, predictor.reflection);
  stepUp(predictor.reflection, predictor.order, predictor.taps);
  let peak = 0;
  for (const value of samples) peak = Math.max(peak, Math.abs(value - offset));
  // A sum that leaves 32 bits wraps, and predicts nothing.
  while (
    predictor.taps.subarray(0, predictor.order).reduce((s, t) => s + Math.abs(t), 0) * peak >
    2 ** 31 - 1
  ) {
    predictor.order--;
    stepUp(predictor.reflection, predictor.order, predictor.taps);
  }
  return predictor;
}

/** Offset removed, an eighth at either end tapered: hard ends would look like a signal of their own. */
function windowed(samples: Int16Array, offset: number): Float64Array {
  const count = samples.length;
  const ramp = count >> 3;
  const centred = new Float64Array(count);
  for (let i = 0; i < count; i++) centred[i] = samples[i]! - offset;
  for (let i = 0; i < ramp; i++) {
    const weight = (i + 0.5) / ramp;
    centred[i]! *= weight;
    centred[count - 1 - i]! *= weight;
  }
  return centred;
}

/** Levinson-Durbin recursion; returns the order that saves most bits. */
function reflect(correlation: Float64Array, count: number, reflection: Int8Array): number {
  let taps: number[] = [];
  let power = correlation[0]! * (1 + 1e-9) + 1;
  let gain = 0;
  let best = { gain: 0, order: 0 };
  for (let m = 1; m < correlation.length; m++) {
    const cross = taps.reduce((rest, tap, i) => rest - tap * correlation[m - 1 - i]!, correlation[m]!);
    const k = cross / power;
    if (!(Math.abs(k) < 1)) break;
    reflection[m - 1] = quantise(k);
    taps = [...taps.map((tap, i) => tap - k * taps[m - 2 - i]!), k];
    power *= 1 - k * k;
    gain += -0.5 * count * Math.log2(1 - k * k) - COEFFICIENT_BITS;
    if (gain > best.gain) best = { gain, order: m };
  }
  return best.order;
}

/** Inverse of k = q (64 - |q|) / 1024. */
function quantise(k: number): number {
  const q = Math.min(31, Math.round(32 - Math.sqrt(1024 - 1024 * Math.abs(k))));
  return k < 0 ? -q : q;
}
