/**
 * Window shapes, in their periodic form (as for spectra, not for filter design).
 *
 * hann: the everyday choice. flat-top: a tone between two bins still reads within 0.1 %, at the price of a wide
 * line; coefficients as in scipy.signal.windows.flattop (D'Antona and Ferrero, "Digital Signal Processing for Measurement Systems", 2006, p. 70).
 */
export type WindowName = 'hann' | 'flat-top' | 'rectangular';

/** a0 - a1 cos(x) + a2 cos(2x) - ... with x = 2 pi k / n. */
const TERMS: Record<WindowName, number[]> = {
  rectangular: [1],
  hann: [0.5, 0.5],
  'flat-top': [0.21557895, 0.41663158, 0.277263158, 0.083578947, 0.006947368],
};

export interface Window {
  readonly values: Float64Array;
  /** Mean of the window: a sine's line is lower by this factor. */
  readonly coherentGain: number;
  /** Equivalent noise bandwidth in bins: n sum(w²) / sum(w)². 1.5 for Hann, 3.77 for flat-top. */
  readonly noiseBandwidthBins: number;
  readonly sumOfSquares: number;
}

const kept = new Map<string, Window>();
const WINDOWS_KEPT = 24;

/** Windows are kept and shared, because blocks of one stream all have the same length: do not write to one. */
export function makeWindow(name: WindowName, length: number): Window {
  const key = `${name} ${length}`;
  const window = kept.get(key) ?? computeWindow(name, length);
  kept.delete(key);
  kept.set(key, window);
  if (kept.size > WINDOWS_KEPT) kept.delete(kept.keys().next().value as string);
  return window;
}

function computeWindow(name: WindowName, length: number): Window {
  const values = new Float64Array(length);
  let sum = 0;
  let sumOfSquares = 0;
  for (let k = 0; k < length; k++) {
    let value = 0;
    TERMS[name].forEach((term, order) => {
      value += (order % 2 === 0 ? term : -term) * Math.cos((2 * Math.PI * order * k) / length);
    });
    values[k] = value;
    sum += value;
    sumOfSquares += value * value;
  }
  return {
    values,
    coherentGain: sum / length,
    noiseBandwidthBins: (length * sumOfSquares) / (sum * sum),
    sumOfSquares,
  };
}
