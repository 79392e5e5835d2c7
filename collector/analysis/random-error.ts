import type { Density } from '../dsp/spectrum.ts';
import { medianOverMean, runningMedian } from './background.ts';

/** A line this many times the local background is a steady tone, not noise. */
const TONE_RATIO = 12;

/** Density of velocity, (mm/s)² per Hz, from that of acceleration, (m/s²)² per Hz: S / (2 pi f)², inside a band. */
export function velocityDensity(acceleration: Density, bandHz: [number, number]): Density {
  const { stepHz, density: own } = acceleration;
  const density = new Float64Array(own.length);
  for (let k = 1; k < own.length; k++) {
    const hz = k * stepHz;
    if (hz < bandHz[0]) continue;
    if (hz > bandHz[1]) break;
    const perS = 2 * Math.PI * hz;
    density[k] = (own[k]! * 1e6) / (perS * perS);
  }
  return { ...acceleration, density };
}

/**
 * Statistical bandwidth (integral S)² / integral S² of a density: the width of the flat spectrum whose RMS is as
 * random. Flat acceleration from 10 to 1000 Hz, seen as velocity, has only 29.4 Hz.
 * Source: J. S. Bendat, A. G. Piersol, "Random Data", 4th ed., 2010, section 8.3.
 */
export function statisticalBandwidthHz(spectrum: Density): number {
  let sum = 0;
  let squares = 0;
  for (const value of spectrum.density) {
    sum += value;
    squares += value * value;
  }
  return squares === 0 ? 0 : (sum * sum * spectrum.stepHz) / squares;
}

/** Standard deviation of an RMS over its value, for Gaussian noise of bandwidth B over T: 1 / (2 sqrt(B T)). */
export function randomErrorOfRms(bandwidthHz: number, seconds: number): number {
  return bandwidthHz > 0 && seconds > 0
    ? 1 / (2 * Math.sqrt(bandwidthHz * seconds))
    : Number.POSITIVE_INFINITY;
}

/**
 * The same for noise with steady tones in it. A tone repeats exactly, so only its beating with the noise around it
 * is random: variance of the mean square = (integral S² + 2 sum of P S at each tone of mean square P) / T, with S
 * the noise alone. Taking a tone for noise of its line's width would state an error many times too large.
 */
export function randomErrorWithTones(spectrum: Density, seconds: number): number {
  const { density, stepHz, segments } = spectrum;
  const inside = density.findIndex((value) => value > 0);
  if (inside < 0 || !(seconds > 0)) return Number.POSITIVE_INFINITY;
  const background = runningMedian(density, Math.max(4, Math.round(density.length / 200)));
  const toMean = 1 / medianOverMean(segments);
  let total = 0;
  let variance = 0;
  for (let k = inside; k < density.length; k++) {
    const noise = Math.min(density[k]!, background[k]! * toMean);
    const tone = density[k]! > TONE_RATIO * noise ? density[k]! - noise : 0;
    const random = density[k]! - tone;
    total += density[k]!;
    variance += random * random + 2 * tone * noise;
  }
  const meanSquare = total * stepHz;
  return Math.sqrt((variance * stepHz) / seconds) / meanSquare / 2;
}
