import { realFft } from '../dsp/fft.ts';
import { makeWindow } from '../dsp/window.ts';
import type { Band } from './bands.ts';
import type { LocationRecord } from './question.ts';

export interface Coherence {
  /** Magnitude-squared coherence of each band, 0 to 1, weighted by power and with the bias of few averages removed. */
  byBand: number[];
  /** Averages behind it. */
  averages: number;
  /** Values above this come by chance once in a hundred times (per line; a band is surer). */
  chanceLimit: number;
}

/** Share of a window in one segment: echoes and delays along a path must be short against it. */
const SEGMENTS_PER_WINDOW = 2;

/**
 * Magnitude-squared coherence between two locations of one board (one clock), by Welch's averages: how much of what
 * one shows is a fixed filtering of what the other shows. It does not say which of the two comes first, nor whether a
 * third thing drives both.
 *
 * For several axes a side it is |S_ab|² summed over all pairs of axes, over the product of the two sums of
 * autospectra: 1 where one force drives everything, and never more (Cauchy-Schwarz). For one axis each it is the usual
 * |S_ab|² / (S_aa S_bb). Bias 1/n and chance limit 1 - alpha^(1/(n-1)) for n independent averages: G. C. Carter,
 * "Coherence and time delay estimation", Proc. IEEE 1987.
 *
 * @throws RangeError when the two come from different boards
 */
export function coherence(
  a: LocationRecord,
  b: LocationRecord,
  bands: readonly Band[],
  windows: readonly number[],
  windowS: number,
): Coherence {
  if (a.board !== b.board || a.sampleRateHz !== b.sampleRateHz) {
    throw new RangeError(
      `${a.name} and ${b.name} do not share a clock: waveform coherence would mean nothing`,
    );
  }
  const rate = a.sampleRateHz;
  const length = Math.round((windowS * rate) / SEGMENTS_PER_WINDOW);
  const step = Math.max(1, length >> 1);
  const bins = (length >> 1) + 1;
  const sides = [a.axes, b.axes];
  const cross = a.axes.map(() => b.axes.map(() => new Float64Array(2 * bins)));
  const own = [new Float64Array(bins), new Float64Array(bins)];
  let segments = 0;
  for (const w of windows) {
    const from = Math.round(w * windowS * rate);
    const to = Math.min(a.axes[0]!.length, b.axes[0]!.length, Math.round((w + 1) * windowS * rate));
    for (let start = from; start + length <= to; start += step) {
      const [left, right] = sides.map((axes) => axes.map((samples) => transform(samples, start, length)));
      for (const x of left!) addPower(own[0]!, x);
      for (const y of right!) addPower(own[1]!, y);
      for (const [i, x] of left!.entries()) {
        for (const [j, y] of right!.entries()) addCross(cross[i]![j]!, x, y);
      }
      segments++;
    }
  }
  // Neighbours that overlap by half share a little under a Hann window (Welch 1967).
  const averages = Math.max(2, segments / 1.055);
  const stepHz = rate / length;
  const byBand = bands.map(({ fromHz, toHz }) => {
    let [shared, product] = [0, 0];
    for (let k = Math.ceil(fromHz / stepHz); k * stepHz <= toHz && k < bins; k++) {
      product += own[0]![k]! * own[1]![k]!;
      for (const row of cross) for (const pair of row) shared += pair[2 * k]! ** 2 + pair[2 * k + 1]! ** 2;
    }
    if (product === 0) return 0;
    return Math.max(0, (shared / product - 1 / averages) / (1 - 1 / averages));
  });
  return { byBand, averages, chanceLimit: 1 - 0.01 ** (1 / (averages - 1)) };
}

function transform(samples: Float64Array, start: number, length: number): Float64Array {
  const window = makeWindow('hann', length).values;
  const block = new Float64Array(length);
  let mean = 0;
  for (let k = 0; k < length; k++) mean += samples[start + k]! / length;
  for (let k = 0; k < length; k++) block[k] = (samples[start + k]! - mean) * window[k]!;
  return realFft(length).forward(block);
}

function addPower(sum: Float64Array, x: Float64Array): void {
  for (let k = 0; k < sum.length; k++) sum[k]! += x[2 * k]! ** 2 + x[2 * k + 1]! ** 2;
}

/** sum += conj(x) y */
function addCross(sum: Float64Array, x: Float64Array, y: Float64Array): void {
  for (let k = 0; 2 * k < sum.length; k++) {
    const [xr, xi, yr, yi] = [x[2 * k]!, x[2 * k + 1]!, y[2 * k]!, y[2 * k + 1]!];
    sum[2 * k]! += xr * yr + xi * yi;
    sum[2 * k + 1]! += xr * yi - xi * yr;
  }
}
